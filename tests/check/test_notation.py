"""Notation taken at its letter. The forms are those of the PGN standard (section 8.2.3, SAN)."""

from __future__ import annotations

import chess
import pytest

from lesson.check.fault import Fault
from lesson.check.notation import exactly, is_written
from lesson.check.numbering import written_numbers
from lesson.check.script import faults
from lesson.read import read_text


def found(text: str) -> list[Fault]:
    return [fault for fault in faults(read_text(text.encode(), "script.txt")) if fault.severity == "error"]


@pytest.mark.parametrize("san", ["Nf3", "exd5", "Nbd2", "R1a3", "Qh4e1", "O-O", "O-O-O", "e8=Q+", "e4"])
def test_a_word_of_notation_stands_for_its_move_and_no_other(san: str) -> None:
    spoken = exactly(san, 0)
    assert spoken is not None
    assert (spoken.castle == "long") == (san == "O-O-O")
    assert spoken.piece == ("K" if "O" in san else san[0] if san[0] in "NBRQK" else "P")
    assert spoken.take == ("x" in san)
    assert spoken.rank == {"R1a3": 0, "Qh4e1": 3}.get(san)


@pytest.mark.parametrize("word", ["e9", "knight", "Nf", "i4", "12", "a"])
def test_other_words_are_no_notation(word: str) -> None:
    assert exactly(word, 0) is None


def test_squares_alone_are_not_yet_notation() -> None:
    assert not is_written(["e4", "e5", "and", "the", "bishop", "to", "c4"])
    assert is_written(["1.", "e4", "e5", "2.", "Nf3", "Nc6"])


def test_numbers_belong_to_the_move_behind_them() -> None:
    assert written_numbers(["4.", "Nf3", "d6", "5...Be7", "x"]) == {1: (4, chess.WHITE), 3: (5, chess.BLACK)}


def test_the_rank_a_man_comes_from_settles_which_man_it_is() -> None:
    start = "White: king h2, rooks d2, d7, pawn g3. Black: king h8, bishop d5, pawn g6. White to move."
    assert [fault.kind for fault in found(f"{start} Rxd5 Kg8. White is winning.")] == ["ambiguous"]
    assert found(f"{start} R2xd5 Kg8. White is winning.") == []


def test_a_move_with_the_number_of_its_position_misses_none_before_it() -> None:
    text = "1. d4 Nf6 2. c4 e6 3. Nc3 Bb4 4. e3 O-O 5. Bd3 d5 6. Ne4 c5 7. O-O Nc6, which is equal."
    assert [(fault.kind, fault.why) for fault in found(text)] == [("illegal", "pinned")]


def test_a_number_in_words_may_be_of_two() -> None:
    line = "d4, d5, c4, d takes c4, knight f3, knight f6, e3, e6. Equal."
    assert [f.kind for f in found(f"{line} Take us back to move forty-two. Black has c6, knight f3. Equal.")] == [
        "return"
    ]


def test_what_is_told_twice_over_is_one_move() -> None:
    line = "d4, knight f6, c4, c5, d5, e6, knight c3, e takes d5. White recaptures,"
    assert found(f"{line} c takes d5, d6. Unclear.") == []
    assert [fault.why for fault in found(f"{line} queen takes c4, d6. Unclear.")] == ["occupied"]
