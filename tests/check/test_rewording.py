"""What only the strict reading of a script hears: FEN, moves told by a noun, stops of paragraphs, lines with names."""

from __future__ import annotations

import pytest

from lesson.check.diagrams import diagrams
from lesson.check.fault import Fault
from lesson.check.labels import missing_lines
from lesson.check.rewording import reworded
from lesson.check.script import faults
from lesson.model import Talk
from lesson.read import read_text

# The example of the PGN standard, 16.1.4: the position after 1. e4.
AFTER_E4 = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq e3 0 1"


def talk(text: str) -> Talk:
    return read_text(text.encode(), "script.txt")


def heard(text: str) -> list[str]:
    return [word.text for word in reworded(talk(text)).words]


def found(text: str) -> list[Fault]:
    return [fault for fault in faults(talk(text)) if fault.severity == "error"]


@pytest.mark.parametrize("written", [AFTER_E4, f"`{AFTER_E4}`,", f"[{AFTER_E4}]", f'"{AFTER_E4}".'])
def test_a_fen_is_found_with_its_marks(written: str) -> None:
    (diagram,) = diagrams(f"We begin with {written} Now".split())
    assert (diagram.first, diagram.last, diagram.fen, diagram.wrong) == (3, 9, AFTER_E4, "")


def test_fields_that_are_left_out_are_whites_move_and_no_rights() -> None:
    (diagram,) = diagrams(["4k3/8/8/8/8/8/4P3/4K3", "and", "w"])
    assert (diagram.last, diagram.fen) == (1, "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1")


@pytest.mark.parametrize("word", ["1/2", "and/or", "8/8", "b/w", "https://a/b/c/d/e/f/g/h"])
def test_other_words_with_strokes_are_no_fen(word: str) -> None:
    assert diagrams([word]) == []


@pytest.mark.parametrize(
    ("board", "wrong"),
    [
        ("4k3/8/4k3/8/8/8/4P3/4K3 w - - 0 1", "more than one king of a side"),
        ("8/8/8/8/8/8/4P3/4K3 w - - 0 1", "no black king"),
        ("4k3/4R3/8/8/8/8/8/4K3 w - - 0 1", "Black is in check although White is to move"),
        ("4k2P/8/8/8/8/8/8/4K3 w - - 0 1", "a pawn on the first or the last rank"),
        ("4k3/8/8/8/8/8/8/4K3 w K - 0 1", "castling allowed where king or rook has left its square"),
        ("4k3/8/8/8/8/8/4K3 w - - 0 1", "expected 8 rows in position part of fen"),
    ],
)
def test_a_fen_that_cannot_be_is_a_position_that_cannot_be(board: str, wrong: str) -> None:
    (fault,) = found(f"Look at {board} for a moment.")
    assert (fault.kind, fault.first) == ("position", 2)
    assert wrong in fault.message


def test_moves_behind_a_fen_are_played_from_it() -> None:
    (fault,) = found("From 4k3/8/8/8/8/8/4P3/4K3 w - - 0 1 we play e4, king e7, king e2, king e5.")
    assert (fault.kind, fault.why) == ("illegal", "unreachable")
    assert "after 2. Ke2" in fault.message


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a retreat to b3 by the bishop, d6", "a bishop to b3 \u00b7 \u00b7 \u00b7, d6."),
        ("The bishop goes back one step, to a4. Good.", "The bishop goes back one step to a4. Good."),
        ("# A heading\n\n1. e4 e5 2. Nf3", "# A heading. \u00b7, e4, e5, \u00b7, Nf3."),
    ],
)
def test_words_are_put_as_they_are_best_heard_and_keep_their_places(text: str, says: str) -> None:
    assert " ".join(heard(text)) == says
    assert len(heard(text)) == len(text.split())


def test_a_message_quotes_what_was_written() -> None:
    (fault,) = found("e4, e5, knight f3, knight c6, bishop c4, d6. Now a retreat to a4 by the bishop.")
    assert '"retreat to a4"' in fault.message


LINES = "## Line A\n\ne4.\n\n## Line B\n\nd4.\n\nRemember {}."


@pytest.mark.parametrize(("name", "missing"), [("line A", 0), ("Line C", 1), ("line 7", 0), ("the line d5", 0)])
def test_a_line_with_a_name_that_no_line_has_is_missing(name: str, missing: int) -> None:
    assert len(list(missing_lines(talk(LINES.format(name))))) == missing


def test_one_name_makes_no_list_of_lines() -> None:
    assert list(missing_lines(talk("## Line A\n\ne4. Then see line B in the book."))) == []


def test_in_a_dictated_position_king_and_rook_at_home_may_castle() -> None:
    men = "White: king e1, rook h1, pawns f2, g2, h2. Black: king g8, rook d8, pawns f7, g7, h7. White to move."
    assert found(f"{men} White castles kingside, rook d2. Equal.") == []
    (fault,) = found(f"{men} White castles queenside, rook d2. Equal.")
    assert (fault.kind, fault.why) == ("illegal", "unreachable")
