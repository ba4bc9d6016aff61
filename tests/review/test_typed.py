"""Typed moves; the names of moves are those of SAN (PGN standard of 1994, section 8.2.3) and of common speech."""

from __future__ import annotations

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.errors import UsageError
from lesson.review.typed import back_to, is_no_move, read_move
from lesson.spoken import spoken_form

START = chess.STARTING_FEN
# Made up, one feature each; python-chess judges them legal.
SHORT = "4k3/8/8/8/8/8/8/4K2R w K - 0 1"
PASSING = "4k3/8/8/3Pp3/8/8/8/4K3 w - e6 0 1"
SEVENTH = "r3k3/1P6/8/8/8/8/8/4K3 w - - 0 1"
CHECKED = "4k3/8/8/8/8/2b5/8/1N2K3 w - - 0 1"


@pytest.mark.parametrize(
    ("text", "fen", "uci"),
    [
        ("e4", START, "e2e4"),
        ("e2e4", START, "e2e4"),
        ("Nf3", START, "g1f3"),
        ("nf3", START, "g1f3"),
        ("knight f3", START, "g1f3"),
        ("Night to f three", START, "g1f3"),
        ("pawn e4", START, "e2e4"),
        ("g1 f3", START, "g1f3"),
        ("O-O", SHORT, "e1g1"),
        ("0-0-0", "r3k3/8/8/8/8/8/8/R3K3 w Q - 0 1", "e1c1"),
        ("castles", SHORT, "e1g1"),
        ("castles short", SHORT, "e1g1"),
        ("knight takes c3", CHECKED, "b1c3"),
        ("nxc3", CHECKED, "b1c3"),
        ("takes on e6", PASSING, "d5e6"),
        ("pawn takes e6", PASSING, "d5e6"),
        ("b8 queen", SEVENTH, "b7b8q"),
        ("b8=N", SEVENTH, "b7b8n"),
        ("b8 promotes to knight", SEVENTH, "b7b8n"),
        ("takes a8", SEVENTH, "b7a8q"),
    ],
)
def test_a_move_is_understood(text: str, fen: str, uci: str) -> None:
    assert read_move(text, fen).uci() == uci


@pytest.mark.parametrize(
    "text", ["", "e5", "knight", "knight d4", "takes", "Ke2", "hello", "Nf3 or e4", "e2e5", "♘f3", "1", "0000"]
)
def test_what_is_no_one_move_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        read_move(text, START)


def test_of_two_men_the_answer_asks_which() -> None:
    with pytest.raises(UsageError, match=r"N[bf]d2, N[bf]d2"):
        read_move("knight d2", "4k3/8/8/8/8/5N2/8/1N2K3 w - - 0 1")


@given(st.lists(st.integers(0, 10**6), max_size=60))
def test_every_move_is_understood_by_its_san_its_uci_and_as_it_is_said(choices: list[int]) -> None:
    board = chess.Board()
    for choice in choices:
        moves = list(board.legal_moves)
        if not moves:
            break
        move = moves[choice % len(moves)]
        san = board.san(move)
        assert read_move(san, board.fen()) == move
        assert read_move(move.uci(), board.fen()) == move
        spoken = spoken_form(san)
        if not san.startswith(("O-O", "B")) and spoken[:1] != "b":  # "b takes c3" is also how "bxc3" is typed
            assert read_move(spoken, board.fen()) == move
        board.push(move)


@given(st.text(max_size=60))
def test_no_text_does_harm(text: str) -> None:
    is_no_move(text)
    back_to(text)
    try:
        move = read_move(text, START)
    except UsageError:
        return
    assert move in chess.Board().legal_moves


def test_going_back_is_told_from_moves() -> None:
    assert back_to("back to 6. Nf3") == "6. Nf3"
    assert back_to("Go back to move 4") == "move 4"
    assert back_to("back") == ""
    assert back_to("Bc4") is None
    assert back_to("backward pawn") is None
