"""What a comment mends, and what it leaves as it was said."""

from __future__ import annotations

import pytest

from lesson.spoken import mended, spoken_form


@pytest.mark.parametrize(
    ("san", "said"),
    [
        ("Nf3", "knight f3"),
        ("dxc4", "d takes c4"),
        ("b4", "b4"),
        ("Qxh7#", "queen takes h7"),
        ("Nbd2", "knight b d2"),
        ("R1e2+", "rook 1 e2"),
        ("O-O", "castles"),
        ("O-O-O+", "castles long"),
        ("e8=Q", "e8 queen"),
        ("gxh1=N", "g takes h1 knight"),
        ("", ""),
    ],
)
def test_spoken_form(san: str, said: str) -> None:
    assert spoken_form(san) == said


@pytest.mark.parametrize(
    ("heard", "uci", "san", "said"),
    [
        ("before,", "b2b4", "b4", "b4,"),
        ("Night f3,", "g1f3", "Nf3", "Knight f3,"),
        ("(night before)", "d5b4", "Nb4", "(knight b4)"),
        ("see for", "c2c4", "c4", "c4"),
        ("A for", "a2a4", "a4", "a4"),
        ("e to", "e1e2", "Ke2", "e2"),
        ("Rook I7,", "a1a7", "Ra7", "Rook a7,"),
        ("movie 5", "e4e5", "e5", "e5"),
        ("the rock comes to d1", "f1d1", "Rd1", "the rook comes to d1"),
    ],
)
def test_misheard_words_are_put_right(heard: str, uci: str, san: str, said: str) -> None:
    assert " ".join(word for word in mended(heard.split(), {uci: san}) if word) == said


@pytest.mark.parametrize(
    ("heard", "uci", "san"),
    [
        ("knight f3,", "g1f3", "Nf3"),
        ("Nxe5+", "f3e5", "Nxe5+"),
        ("e7e8", "e7e8", "Re8"),
        ("knight f three", "g1f3", "Nf3"),
        ("the knight drops back to where it came from", "g4f6", "Nf6"),
        ("from c3 he goes", "c3d5", "Nd5"),
        ("he takes", "d6e5", "dxe5"),
        ("both sides castle", "e1g1", "O-O"),
        ("the night before", "g1f3", "Nf3"),
        ("Springer schlägt", "f3e5", "Nxe5"),
        ("Up goes the a-pawn, two squares", "a2a4", "a4"),
        ("", "a2a4", "a4"),
    ],
)
def test_a_right_saying_and_a_riddle_stand_as_said(heard: str, uci: str, san: str) -> None:
    words = heard.split()
    expected = ["the", "knight", "before"] if "night before" in heard else words
    assert mended(words, {uci: san}) == expected


def test_squares_of_several_moves_in_one_breath_stand() -> None:
    words = ["night", "takes", "I7,", "rock", "takes"]
    assert mended(words, {"c5a7": "Nxa7", "a8a7": "Rxa7"}) == ["knight", "takes", "I7,", "rook", "takes"]
