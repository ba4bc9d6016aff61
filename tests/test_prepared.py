"""The teacher's own analysis: read whole or refused in one line, followed through what was not heard, compared."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from lesson.check.prepared import compared
from lesson.cli import cli
from lesson.decode import decode
from lesson.errors import ReadError
from lesson.model import Finding
from lesson.read.prepared import Prepared, read_prepared
from lesson.review.terminal import Dialogue
from lesson.settings import MAX_FILE_BYTES
from tests.decode.test_decode import lines, talk_of

ANALYSIS = """[Event "Prepared"]

1. d4 d5 2. c4 dxc4 (2... e6 3. Nc3 Nf6 4. Bg5) 3. e3 b5 4. a4 c6 5. axb5 cxb5 6. Qf3 *
"""


@pytest.fixture
def analysis(tmp_path: Path) -> Prepared:
    file = tmp_path / "analysis.pgn"
    file.write_text(ANALYSIS, encoding="utf-8")
    return read_prepared(file)


def test_moves_nobody_heard_are_found_along_the_analysis(analysis: Prepared) -> None:
    talk = talk_of("d4, d5, c4. Something nobody can hear, and more of it. A4, c6, takes, takes, queen f3.")
    assert lines(decode(talk, prepared=analysis.moves)) == {"d4 d5 c4 dxc4 e3 b5 a4 c6 axb5 cxb5 Qf3"}
    assert lines(decode(talk)) != lines(decode(talk, prepared=analysis.moves))


def test_what_was_not_prepared_can_still_be_said(analysis: Prepared) -> None:
    talk = talk_of("d4, d5, c4, c6, knight f3, knight f6, knight c3, d takes c4, a4, bishop f5.")
    assert lines(decode(talk, prepared=analysis.moves)) == {"d4 d5 c4 c6 Nf3 Nf6 Nc3 dxc4 a4 Bf5"}


def _compared(analysis: Prepared, text: str) -> list[Finding]:
    talk = talk_of(text)
    return compared(analysis, decode(talk, prepared=analysis.moves), talk)


def test_a_threat_written_as_a_null_move_is_not_prepared_for_telling(tmp_path: Path) -> None:
    file = tmp_path / "analysis.pgn"
    file.write_text("1. e4 e5 (1... -- 2. d4) 2. Nf3 *", encoding="utf-8")
    found = read_prepared(file)
    assert sum(map(len, found.moves.values())) == 3
    assert [f.message for f in _compared(found, "e4, e5.")] == ["prepared and not told: 2. Nf3"]


def test_what_was_not_told_and_what_was_told_beyond_are_noted_once(analysis: Prepared) -> None:
    found = _compared(analysis, "d4, d5, c4, d takes c4, e3, e5, bishop takes c4.")
    assert [(f.kind, f.severity, f.message) for f in found] == [
        ("unsaid", "note", "prepared and not told: 3... b5 and 5 moves after it"),
        ("unsaid", "note", "prepared and not told: 2... e6 and 3 moves after it"),
        ("beyond", "note", "told beside what was prepared: 3... e5 and 1 move after it"),
    ]
    assert found[2].words is not None


def test_a_line_told_on_is_beyond_the_preparation(analysis: Prepared) -> None:
    found = _compared(analysis, "d4, d5, c4, e6, knight c3, knight f6, bishop g5, bishop e7.")
    assert "told where the preparation ends: 4... Be7" in [f.message for f in found]


def test_an_analysis_told_whole_leaves_nothing_to_note(analysis: Prepared) -> None:
    text = "d4, d5, c4, d takes c4, e3, b5, a4, c6, takes, takes, queen f3. Back to c4. E6, knight c3, "
    text += "knight f6, bishop g5."
    assert _compared(analysis, text) == []


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "no such file"),
        (b"", "is empty"),
        (b"only words, not a game", "holds no moves"),
        (b"1. e4 e5 2. Ke3 *", "Ke3"),
        (b'[FEN "no position"]\n\n1. e4 *', "game 1"),
        (b"\x7fELF\x00\x01\x02\x00", "not a text file"),
        (b"a" * (MAX_FILE_BYTES + 1), "larger than"),
    ],
    ids=["missing", "empty", "words", "illegal", "fen", "binary", "large"],
)
def test_a_broken_analysis_is_refused_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes | None, says: str
) -> None:
    file = tmp_path / "analysis.pgn"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(ReadError, match=says) as caught:
        read_prepared(file)
    assert len(str(caught.value).splitlines()) == 1
    assert str(caught.value).startswith(f"{file}: ")
    assert capsys.readouterr().err == ""


def test_an_analysis_in_another_encoding_is_read_like_a_transcript(tmp_path: Path) -> None:
    file = tmp_path / "analysis.pgn"
    file.write_bytes('[Event "Grünfeld"]\n\n1. d4 Nf6 *\n'.encode("cp1252"))
    assert sum(map(len, read_prepared(file).moves.values())) == 2


def test_the_review_in_the_terminal_follows_the_analysis(tmp_path: Path) -> None:
    (tmp_path / "analysis.pgn").write_text(ANALYSIS, encoding="utf-8")
    (tmp_path / "talk.txt").write_text("d4, d5, c4, d takes c4, e3, e5.", encoding="utf-8")
    said: list[str] = []
    talk, own = tmp_path / "talk.txt", tmp_path / "analysis.pgn"
    dialogue = Dialogue(talk, None, lambda _: "quit", said.append, own)
    assert {finding.kind for finding in dialogue.session.shown.lesson.findings} == {"unsaid", "beyond"}
    dialogue.run()
    assert said[-1].endswith(f"lesson convert {talk} --prepared {own}")


def test_convert_takes_the_analysis_and_writes_the_notes(tmp_path: Path) -> None:
    (tmp_path / "analysis.pgn").write_text(ANALYSIS, encoding="utf-8")
    (tmp_path / "talk.txt").write_text("d4, d5, c4, d takes c4, e3, e5.", encoding="utf-8")
    talk, own = str(tmp_path / "talk.txt"), str(tmp_path / "analysis.pgn")
    done = CliRunner().invoke(cli, ["convert", talk, "--prepared", own])
    assert done.exit_code == 0, done.output
    lesson = json.loads((tmp_path / "talk.lesson.json").read_text(encoding="utf-8"))
    assert {finding["kind"] for finding in lesson["findings"]} == {"unsaid", "beyond"}
    assert "prepared and not told: 2... e6" in (tmp_path / "talk.unresolved.md").read_text(encoding="utf-8")
    assert "prepared and not told: 2... e6" in done.output
    missing = CliRunner().invoke(cli, ["convert", talk, "--prepared", own + "x"])
    assert missing.exit_code == 2
