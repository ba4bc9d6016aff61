"""The dialogue in the terminal: what is typed becomes corrections, saved before the next question."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from lesson.cli import main
from lesson.corrections import Correction, read_corrections
from lesson.errors import ReadError
from lesson.review.terminal import HELP, Dialogue

ROOT = Path(__file__).resolve().parents[2]

TALK = """[0:00] We begin with e4, e5, knight f3, knight c6, bishop b5.
[0:12] And here Black plays a6, which is quiet. Then the near dwarf came, bishop takes, d takes c6.
"""
BREATH = """[0:00] e4, e5, knight f3, knight c6, bishop c4, bishop c5, d3, knight f6.
[0:05] Then we both castled. And rook e1.
"""
ENDING = "4k3/p7/8/8/8/8/8/4KB2 w - - 0 1"


@pytest.fixture
def talk(tmp_path: Path) -> Path:
    path = tmp_path / "evening.txt"
    path.write_text(TALK, encoding="utf-8")
    return path


def saved(talk: Path) -> tuple[Correction, ...]:
    return read_corrections(talk.with_name("evening.corrections.json")).corrections


def typed(talk: Path, *lines: str, before: Callable[[str], None] = lambda line: None) -> str:
    """Everything said while the lines are typed; then quit. `before` is called before each line is handed over."""
    waiting = [*lines, "quit"]
    out: list[str] = []

    def ask(prompt: str) -> str:
        before(waiting[0])
        return waiting.pop(0)

    Dialogue(talk, None, ask, out.append).run()
    assert waiting == []
    return "\n".join(out)


def test_what_the_board_contradicts_is_listed_and_again_when_it_changes(tmp_path: Path) -> None:
    path = tmp_path / "evening.txt"
    path.write_text("[0:00] We begin with e4, e5, queen h5, and that's mate. [0:12] Knight c6, and so on.\n", "utf-8")
    out = typed(path, "doubts", "mate. = late.")
    listed = 'The board says otherwise:\n  0:10  "mate" is not so after 2. Qh5: the Black king on e8 is not attacked'
    assert out.count(listed) == 2
    assert out.endswith("lesson convert " + str(path))
    assert "The board contradicts nothing." in out.partition("Saved.")[2]


def test_notes_on_the_analysis_are_listed(talk: Path) -> None:
    own = talk.with_suffix(".pgn")
    own.write_text("1. e4 e5 2. Nf3 Nc6 3. Bc4 Bc5 *\n", encoding="utf-8")
    out: list[str] = []
    Dialogue(talk, None, lambda prompt: "quit", out.append, own).run()
    (told,) = (text for text in out if text.startswith("Beside your analysis:"))
    assert "  prepared and not told: 3. Bc4 and 1 move after it" in told.splitlines()
    assert any(row.startswith("  0:09  told beside what was prepared: 3. Bb5") for row in told.splitlines())


@pytest.mark.parametrize(
    ("lines", "kind", "field", "value"),
    [
        (["at 0:12 a6", "Nf6"], "move", "move", "Nf6"),
        (["at 0:12 a6", "knight f6"], "move", "move", "Nf6"),
        (["at 0:12 a6", "1"], "move", "move", "a6"),
        (["at 0:12 a6", "no"], "talk", "text", "Black plays a6,"),
        (["at 0:12 a6", "0"], "talk", "text", "Black plays a6,"),
        (["at 0:12 a6", "mention Nf6"], "mention", "move", "Nf6"),
        (["at 0:12 and here", "back to 2. Nf3"], "return", "path", ("e2e4", "e7e5", "g1f3")),
        (["at 0:12 and here", "back to start"], "return", "path", ()),
        (["at 0:12 and here", f"position {ENDING}"], "chapter", "fen", ENDING),
        (["near dwarf = Najdorf"], "word", "becomes", "Najdorf"),
        (["title Quiet lines"], "title", "becomes", "Quiet lines"),
        (["side we Black"], "side", "side", "b"),
    ],
)  # fmt: skip
def test_each_answer_becomes_the_correction_it_says(
    talk: Path, lines: Sequence[str], kind: str, field: str, value: object
) -> None:
    typed(talk, *lines)
    (correction,) = saved(talk)
    assert (correction.kind, getattr(correction, field)) == (kind, value)


def test_a_move_put_after_another_is_a_return_and_the_move(talk: Path) -> None:
    typed(talk, "at 0:12 a6", "Nf6 after 2. Nf3")
    back, move = saved(talk)
    assert (back.kind, back.path, move.move) == ("return", ("e2e4", "e7e5", "g1f3"), "Nf6")
    assert back.words == move.words


def test_of_two_moves_in_one_breath_the_other_one_stays(tmp_path: Path) -> None:
    path = tmp_path / "evening.txt"
    path.write_text(BREATH, encoding="utf-8")
    told = typed(path, "at 0:05 both castled", "Rg1")
    assert "both castled" in told
    assert [c.move for c in saved(path)] == ["Rg1", "O-O"]
    assert main(["convert", str(path), "-q"]) == 0
    study = path.with_suffix(".pgn").read_text(encoding="utf-8")
    assert "Rg1" in study
    assert "O-O" in study


def test_an_answer_is_on_disk_before_the_next_is_asked_for(talk: Path) -> None:
    counts: list[int] = []
    typed(talk, "at 0:12 a6", "Nf6", "at 0:00 e4", "d4", before=lambda line: counts.append(len(saved(talk))))
    assert counts == [0, 0, 1, 1, 2]


def test_what_changed_is_told_and_undone_and_redone(talk: Path) -> None:
    told = typed(talk, "at 0:12 a6", "Nf6", "undo", "redo", "undo")
    assert "Saved." in told
    assert "Nf6" in told
    assert saved(talk) == ()


def test_nonsense_is_answered_in_a_line_and_saves_nothing(talk: Path) -> None:
    told = typed(
        talk, "undo", "Nf3", "at 9:99", "at 0:12 zebra", "at 0:12 a6", "Qh8", "7", "xyzzy", "", "help",
        "back to 30. Kh8", "side we Green", "position here",
    )  # fmt: skip
    assert saved(talk) == ()
    assert HELP in told
    for complaint in ("nothing is left to undo", "choose the words first", "not said", "no legal move", "no reading 7"):
        assert complaint in told


def test_the_question_shows_words_line_board_and_readings(talk: Path) -> None:
    told = typed(talk, "at 0:12 a6")
    assert "here [Black plays a6,]" in told
    assert "1. e4 e5 2. Nf3 Nc6 3. Bb5" in told
    assert "Black to move" in told
    assert "    1  a6" in told
    assert "    0  not a move" in told


def test_the_study_made_afterwards_has_the_answers(talk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    typed(talk, "at 0:12 a6", "Nf6", "title Quiet lines")
    assert main(["convert", str(talk), "-q"]) == 0
    study = talk.with_suffix(".pgn").read_text(encoding="utf-8")
    assert "3. Bb5 Nf6" in " ".join(study.split())
    assert "Quiet lines" in study
    assert capsys.readouterr().err == ""


def test_a_file_changed_by_another_hand_is_taken_over_not_overwritten(talk: Path) -> None:
    path = talk.with_name("evening.corrections.json")
    theirs = '{"version": 1, "corrections": [{"id": "x", "kind": "title", "becomes": "Theirs"}]}\n'

    def meddle(line: str) -> None:
        if line == "Nf6":
            path.write_text(theirs, encoding="utf-8")

    told = typed(talk, "at 0:12 a6", "Nf6", before=meddle)
    assert path.read_text(encoding="utf-8") == theirs
    assert "another program" in told


def test_no_talk_no_dialogue(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ReadError):
        Dialogue(tmp_path / "absent.vtt", None, lambda _: "quit", lambda _: None)
    assert main(["review", "--terminal", str(tmp_path / "absent.vtt")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def command(talk: Path) -> subprocess.Popen[str]:
    code = "import sys; from lesson.cli import main; sys.exit(main())"
    return subprocess.Popen(
        [sys.executable, "-c", code, "review", "--terminal", str(talk)],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def test_the_end_of_the_input_is_the_end_of_the_dialogue(talk: Path) -> None:
    out, err = command(talk).communicate("at 0:12 a6\nNf6\n", timeout=120)
    assert err == ""
    assert "lesson convert" in out.splitlines()[-1]
    assert [c.move for c in saved(talk)] == ["Nf6"]


@pytest.mark.skipif(os.name == "nt", reason="no such signal there")
def test_killed_after_an_answer_nothing_is_lost(talk: Path) -> None:
    process = command(talk)
    assert process.stdin is not None
    process.stdin.write("at 0:12 a6\nNf6\n")
    process.stdin.flush()
    deadline = time.monotonic() + 120
    while not saved(talk) and time.monotonic() < deadline:
        time.sleep(0.01)
    process.send_signal(signal.SIGKILL)
    process.communicate(timeout=60)
    assert [c.move for c in saved(talk)] == ["Nf6"]
    assert sorted(p.name for p in talk.parent.iterdir()) == ["evening.corrections.json", "evening.txt"]
