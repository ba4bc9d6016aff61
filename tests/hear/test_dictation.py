"""Dictated positions: the rules' own examples, positions of our own read aloud and bent as recognisers bend them."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import chess
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lesson.data import data_path
from lesson.errors import DataError
from lesson.hear.dictated_squares import FILES, load_square_sounds
from lesson.hear.dictation import Dictation, find_dictations, stretch_at
from lesson.hear.edits import edited, find_edits
from lesson.hear.position_words import hear_items

TABLE = tomllib.loads(Path(str(data_path("grammars/en-positions.toml"))).read_text(encoding="utf-8"))


def ranks(found: Dictation, fen: str) -> list[int]:
    """1-based places of a position (men and side to move) in the list."""
    want = fen.split()[:2]
    return [i for i, p in enumerate(found.positions, 1) if p.fen.split()[:2] == want]


def only(text: str) -> Dictation:
    """The one dictation of a text."""
    (found,) = find_dictations(text.split())
    return found


# ------------------------------------------------------------------------------------------- the grammar tests itself


@pytest.mark.parametrize("example", TABLE["dictation"], ids=lambda e: e["why"])
def test_examples_of_dictations(example: dict[str, Any]) -> None:
    if "not" in example:
        assert find_dictations(example["not"].split()) == []
        return
    found = only(example["says"])
    places = ranks(found, example["fen"])
    assert places, found.positions[:5]
    assert example.get("anywhere") or places[0] == 1, found.positions[:3]


@pytest.mark.parametrize("example", TABLE["edit"], ids=lambda e: e["why"])
def test_examples_of_edits(example: dict[str, Any]) -> None:
    edits = find_edits((example.get("says") or example["not"]).split())
    if "not" in example:
        assert edits == []
        return
    assert ranks(edited(edits[0], example["before"]), example["fen"])[:1] == [1]


# ------------------------------------------------------------------------------------------------------ what it hears


def test_the_span_is_the_dictation_and_not_its_surroundings() -> None:
    lead = "Pour yourselves a glass of water, it is warm."
    told = "White has the king on f2 and a rook on b7. Black has the king on h8, a knight on e4. White to move."
    after = "King f3 hits it, and off it goes to g5 check, king g4."
    found = only(f"{lead} {told} {after}")
    first = len(lead.split())
    assert (found.first, found.last) == (first, first + len(told.split()))


def test_without_a_named_turn_the_dictation_ends_with_its_sentence_and_both_sides_may_move() -> None:
    told = "White: king g1, rook b1, pawns f2, g2. Black: king g8, rook c7, pawns g7, h7."
    found = only(f"{told} Rook b8 check is what I want.")
    assert found.last == len(told.split())
    placed = "6k1/2r3pp/8/8/8/8/5PP1/1R4K1"
    assert ranks(found, f"{placed} w") == [1]
    assert ranks(found, f"{placed} b")
    assert any("side to move" in flaw for flaw in found.flaws)


NOISY = [
    # letters of the rhyme class exchanged, as a strong recogniser does
    ("white king G1 queen E3 rook B1 pawns A2 F2 G2 H3 black king G8 queen C7 rook E8 pawns A7 F7 G7 H7 white to move",
     "3r2k1/p1q2ppp/8/8/8/4Q2P/P4PP1/3R2K1 w - - 0 1"),
    # the plural s lost and run into the a, king and rook letters bent, as a weak recogniser does
    ("white, king Z1, rook Zai1, and E1, pawn Z2, B2, F2, G2, H2, black, king Z8, rook Zai8, pawn Zai7, F7, G7, H7, "
     "black to move", "r5k1/p4ppp/8/8/8/8/PP3PPP/R3R1K1 b - - 0 1"),
    # nouns and sides bent, the article heard as a letter
    ("Right has the king on G2, I night on D4 and two pond on E4 and F2. Block has the king on G7, the root down on B2 "
     "and pun on F7. Right two move.", "8/5pk1/8/8/3NP3/8/1r3PK1/8 w - - 0 1"),
    # squares dissolved into words
    ("white has the king on the three, I pawn on the five, black has his king on the seven, and the rook on see two, "
     "white to move", "8/3k4/8/3P4/8/3K4/2r5/8 w - - 0 1"),
    # a noun lost altogether: only a king can be missing
    ("white, hang on E2, rook H4, black, king E8, pawn H3, white to move", "4k3/8/8/8/7R/7p/4K3/8 w - - 0 1"),
    # man and square in one number
    ("white, king G1, 95, pawns F2, G2, black, king H8, bishop B7, white to move",
     "7k/1b6/8/3N4/8/8/5PP1/6K1 w - - 0 1"),
    # letters split from their digits, digits as words
    ("White: king on C -2, bishop on E five. Black: king on A -4, pawn B -3. White to move.",
     "8/8/8/4B3/k7/1p6/2K5/8 w - - 0 1"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "fen"), NOISY)
def test_the_true_position_is_in_the_list_of_a_noisy_dictation(text: str, fen: str) -> None:
    assert ranks(only(text), fen)


@pytest.mark.parametrize(("text", "fen"), NOISY)
def test_positions_are_legal_distinct_and_cheapest_first(text: str, fen: str) -> None:
    positions = only(text).positions
    assert all(chess.Board(p.fen).is_valid() for p in positions)
    assert len({p.fen for p in positions}) == len(positions) <= 300
    assert [p.cost for p in positions] == sorted(p.cost for p in positions)


# ---------------------------------------------------------------------------------------------------------- the flaws

IMPOSSIBLE = [
    ("White: king g1, knight d5, pawn d5. Black: king g8, pawn a7. White to move.", "two men on d5"),
    ("White: king e4, pawn h2. Black: king e5, pawn h7. White to move.", "the kings stand side by side"),
    ("White: king e1, pawns a2 and e8. Black: king h6, rook h1. Black to move.", "a pawn on the first"),
    ("White: king e1, rook h2. Black: king h8, pawns a7 and b7. White to move.", "in check although"),
    ("White: king e1, three pawns on f2 and g2. Black: king e8, rook a8. White to move.", "3 white pawns announced"),
    ("White: king e1, a rook, pawns f2 and g2. Black: king e8, rook a8. White to move.", "for the white rook"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "flaw"), IMPOSSIBLE)
def test_an_impossible_position_is_reported_and_near_legal_ones_offered(text: str, flaw: str) -> None:
    found = only(text)
    assert any(flaw in f for f in found.flaws), found.flaws
    assert found.positions


def test_a_king_whose_square_was_not_heard_is_reported_and_not_invented() -> None:
    found = only("White: king g1, rook c1, pawns f2, g2, h2. Black: rook a8, pawns f7, g7, h7. White to move.")
    assert found.positions == ()
    assert "no square heard for the black king" in found.flaws


def test_an_edit_that_does_not_fit_is_reported() -> None:
    told = "The same position without the queen on d4."
    (edit,) = find_edits(told.split())
    found = edited(edit, "8/8/4k3/8/4K3/4P3/8/8 w - - 0 1")
    assert found.flaws


def test_a_broken_table_of_squares_is_one_line(tmp_path: Path) -> None:
    file = tmp_path / "squares.toml"
    file.write_text("[heard]\n")
    with pytest.raises(DataError, match=r"squares\.toml"):
        load_square_sounds(file)


# ---------------------------------------------------------------------------------------------------------- properties

NAMES = {chess.KNIGHT: "knight", chess.BISHOP: "bishop", chess.ROOK: "rook", chess.QUEEN: "queen", chess.PAWN: "pawn"}


@st.composite
def positions(draw: st.DrawFn) -> chess.Board:
    """Boards of up to 8 men besides the kings, at most one piece of a kind and side; not all are legal."""
    board = chess.Board(None)
    squares = draw(st.lists(st.integers(0, 63), min_size=3, max_size=10, unique=True))
    kinds = draw(st.lists(st.sampled_from(sorted(NAMES)), min_size=8, max_size=8))
    board.set_piece_at(squares[0], chess.Piece(chess.KING, chess.WHITE))
    board.set_piece_at(squares[1], chess.Piece(chess.KING, chess.BLACK))
    for i, square in enumerate(squares[2:]):
        color = i % 2 == 0
        inner = 0 < chess.square_rank(square) < 7
        if (kinds[i] == chess.PAWN and inner) or (kinds[i] != chess.PAWN and not board.pieces(kinds[i], color)):
            board.set_piece_at(square, chess.Piece(kinds[i], color))
    board.turn = draw(st.booleans())
    return board


def read_aloud(board: chess.Board) -> str:
    """A position in words, as exact words would have it."""
    parts = []
    for color, name in ((chess.WHITE, "White"), (chess.BLACK, "Black")):
        men = [f"king {chess.square_name(board.king(color) or 0)}"]
        for kind in (chess.QUEEN, chess.ROOK, chess.BISHOP, chess.KNIGHT, chess.PAWN):
            on = sorted(chess.square_name(s) for s in board.pieces(kind, color))  # pawns from left to right
            if on:
                men.append(f"{NAMES[kind]}{'s' if len(on) > 1 else ''} {', '.join(on)}")
        parts.append(f"{name}: {', '.join(men)}.")
    return " ".join(parts) + f" {'White' if board.turn else 'Black'} to move."


@settings(max_examples=40, deadline=None)
@given(positions())
def test_a_legal_position_read_aloud_comes_back_near_the_top(board: chess.Board) -> None:
    has_men = all(board.occupied_co[c] & ~board.kings for c in chess.COLORS)
    assume(board.is_valid() and has_men)
    found = only(read_aloud(board))
    assert ranks(found, board.fen())[0] <= 10
    assert found.flaws == ()


def test_pawns_of_one_list_are_told_from_left_to_right() -> None:
    heard = only(
        "White: king g1, rook e1, pawns on a4, d4, f2, d3 and h4. Black: king g8, pawns f7, g7. White to move."
    )
    board = chess.Board(heard.positions[0].fen)
    assert board.piece_at(chess.G3) == chess.Piece(chess.PAWN, chess.WHITE)


# fmt: off
VOCABULARY = [
    "white", "black", "king", "kings", "rook", "pawns", "night", "on", "the", "d4",
    "E", "-5", "g", "Z1", "95", "I53", "to", "move", "same", "position",
    "put", "instead", ".", ",", "White:", "a7,", "five", "without", "against",
]
# fmt: on


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(VOCABULARY), max_size=40))
def test_any_row_of_words_is_survived(words: list[str]) -> None:
    for found in find_dictations(words, most=5):
        assert 0 <= found.first < found.last <= len(words)
        assert all(chess.Board(p.fen).is_valid() for p in found.positions)
    for edit in find_edits(words):
        edited(edit, chess.STARTING_FEN, most=5)


@pytest.mark.parametrize("heard", ["a", "d", "g", "i", "z", "zai", "v"])
def test_file_costs_are_probabilities(heard: str) -> None:
    for opens_list in (False, True):
        costs = load_square_sounds().files(heard, opens_list)
        assert len(costs) == len(FILES)
        assert math.isclose(sum(math.exp(-c) for c in costs), 1.0)


@pytest.mark.parametrize("row", ["and the", "white", "white king a1", "white pawn a2 b2", "put the king on a1", "a1"])
def test_long_rows_take_time_in_proportion_to_their_length(row: str) -> None:
    def steps(times: int) -> int:
        words = (row.split() * times)[:times]
        heard = hear_items(words)
        return sum(len(stretch_at(heard.items, at)) for at in range(len(heard.items)))

    assert steps(2000) <= 2.5 * steps(1000) + 100
