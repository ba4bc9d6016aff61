"""False claims of a recorded talk, in everything that `lesson convert` writes and prints."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given

from lesson.assemble import assemble
from lesson.check.doubted import doubted
from lesson.check.findings import checked
from lesson.cli import main
from lesson.corrections import Correction, Corrections
from lesson.model import Decoded, Event, Finding, Lesson, Talk
from lesson.pipeline import Rereader
from lesson.read import read_talk
from lesson.settings import CLAIM_DENIED, FLAG_BELOW
from tests.decoded import told
from tests.write.made import lesson_of, said, tree_of

TALK = """WEBVTT

00:00:00.000 --> 00:00:06.000
Good evening to the pottery club. We begin with e4, e5, queen h5, and that is mate, my dear potters.

00:00:06.000 --> 00:00:12.000
Knight c6, bishop c4, knight f6, and queen takes f7 is checkmate.
"""
FALSE = '"mate" is not so after 2. Qh5: the Black king on e8 is not attacked'


@pytest.fixture
def talk_path(tmp_path: Path) -> Path:
    path = tmp_path / "pottery.vtt"
    path.write_text(TALK, encoding="utf-8")
    return path


def test_a_false_claim_is_in_every_output(talk_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["convert", str(talk_path)]) == 0
    (note,) = (line for line in capsys.readouterr().out.splitlines() if line.startswith("  note"))
    assert note.split(maxsplit=1) == ["note", f"0:04 {FALSE}"]
    (finding,) = Lesson.model_validate_json(talk_path.with_suffix(".lesson.json").read_bytes()).findings
    first = TALK.partition("\n00:00:00.000 --> 00:00:06.000\n")[2].split().index("mate,")
    assert (finding.kind, finding.severity, finding.words) == ("claim", "error", (first, first + 1))
    assert finding.fen == "rnbqkbnr/pppp1ppp/8/4p2Q/4P3/8/PPPP1PPP/RNB1KBNR b KQkq - 1 2"
    pencil = talk_path.with_suffix(".unresolved.md").read_text(encoding="utf-8")
    section = pencil.partition("\n## The board says otherwise\n")[2]
    told = "We begin with e4, e5, queen h5, and that is **mate,** my dear potters."
    assert section.splitlines()[-1] == f"- 0:04: said {told} ({FALSE})"
    assert "## Notes" not in pencil


def test_what_a_correction_makes_true_is_no_finding(talk_path: Path) -> None:
    talk = read_talk(talk_path)
    assert [f.message for f in Rereader().lesson(talk, Corrections())[0].findings] == [FALSE]
    word = Correction(id="c1", kind="word", text="mate, my", becomes="late, my")
    assert Rereader().lesson(talk, Corrections(corrections=(word,)))[0].findings == ()


def a_talk(confidence: float) -> tuple[Lesson, Talk, Decoded]:
    talk = said("e4 e5 queen h5 and that's mate {sic} Knight c6", 500)
    nodes = tree_of("e4 e5 Qh5 Nc6")
    spans = ((0, 1), (1, 2), (2, 4), (8, 10))
    events = tuple(
        Event("play", first, last, n.id, n.uci, n.san, confidence=confidence)
        for n, (first, last) in zip(nodes[1:], spans, strict=True)
    )
    return assemble(talk, Decoded(nodes, events)), talk, Decoded(nodes, events)


def test_an_unsure_line_is_not_judged() -> None:
    assert [f.kind for f in checked(*a_talk(0.9)).findings] == ["characters", "claim"]
    assert [f.kind for f in checked(*a_talk(0.5)).findings] == ["characters"]


def test_nothing_is_found_twice() -> None:
    lesson, talk, decoded = a_talk(0.9)
    once = checked(lesson, talk, decoded)
    assert checked(once, talk, decoded) == once


def test_a_note_on_the_file_does_not_doubt_the_speaker() -> None:
    assert [f.doubts_speaker for f in checked(*a_talk(0.9)).findings] == [False, True]
    assert not Finding(kind="file", severity="warning", message="no word of the talk").doubts_speaker


def test_half_a_character_in_a_claim_can_be_written() -> None:
    _, talk, decoded = a_talk(0.9)
    words = tuple(replace(w, text=w.text + "\ud800") if w.text == "mate" else w for w in talk.words)
    halved = replace(talk, words=words)
    made = checked(lesson_of(halved, decoded.nodes, decoded.events), halved, decoded)
    assert '"mate\ufffd" is not so' in made.findings[-1].message
    made.model_dump_json().encode("utf-8")


@given(told())
def test_any_told_talk_can_be_checked(pair: tuple[Talk, Decoded]) -> None:
    talk, decoded = pair
    made = checked(assemble(talk, decoded), talk, decoded)
    assert Lesson.model_validate_json(made.model_dump_json()) == made
    assert all(f.words is None or 0 <= f.words[0] < f.words[1] <= len(made.words) for f in made.findings)


def test_what_the_board_denies_is_flagged_with_what_follows_it() -> None:
    _, talk, decoded = a_talk(0.95)
    words = [word.text for word in talk.words]
    sure = [event.confidence for event in doubted(decoded, words).events]
    assert sure == [0.95, 0.95, 0.95 * CLAIM_DENIED, 0.95 * CLAIM_DENIED]
    assert CLAIM_DENIED < FLAG_BELOW, "however sure the move was"
    moves = assemble(talk, doubted(decoded, words)).chapters[0].moves
    assert [move.flagged for move in moves] == [False, False, True, True]
    findings = checked(assemble(talk, decoded), talk, doubted(decoded, words)).findings
    assert [f.words for f in findings if f.kind == "claim"] == [(6, 7)], "and the speaker is told as well"
    true = ["sound" if word == "mate" else word for word in words]
    assert doubted(decoded, true) is decoded


def test_what_a_teacher_answered_stays_sure() -> None:
    _, talk, decoded = a_talk(1.0)
    assert doubted(decoded, [word.text for word in talk.words]) is decoded
