"""Exchanges on a square: against an exhaustive capture search and published positions."""

from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given

from lesson import exchanges
from tests.test_facts import boards, mirrored


def walk(seed: int, plies: int) -> list[chess.Board]:
    """Positions of a random game that prefers captures, so that exchanges are met."""
    rng, board, out = random.Random(seed), chess.Board(), []
    for _ in range(plies):
        moves = sorted(board.legal_moves, key=chess.Move.uci)
        if not moves:
            break
        captures = [m for m in moves if board.is_capture(m)]
        board.push(rng.choice(captures if captures and rng.random() < 0.2 else moves))
        out.append(board.copy(stack=False))
    return out


def search_captures(board: chess.Board, square: int) -> float:
    """All legal captures on one square, both sides free to stop: the definition, without any short cut."""
    best = 0.0
    for move in board.generate_legal_captures(to_mask=chess.BB_SQUARES[square]):
        taken = exchanges.VALUES[board.piece_type_at(square) or chess.PAWN]
        gained = exchanges.VALUES[move.promotion] - 1 if move.promotion else 0.0
        board.push(move)
        best = max(best, taken + gained - search_captures(board, square))
        board.pop()
    return best


def test_exchanges_agree_with_an_exhaustive_search() -> None:
    same, met, unlike = 0, 0, []
    for seed in range(12):
        for board in walk(seed, 60):
            for move in list(board.legal_moves)[::5]:
                if board.is_castling(move) or board.piece_type_at(move.from_square) == chess.KING:
                    continue
                after = board.copy(stack=False)
                taken = exchanges.captures_value(board, move) + (
                    exchanges.VALUES[move.promotion] - 1 if move.promotion else 0
                )
                after.push(move)
                expected = taken - search_captures(after, move.to_square)
                met += expected != 0
                if exchanges.move_value(board, move) == pytest.approx(expected):
                    same += 1
                else:
                    unlike.append((board.fen(), move.uci(), expected))
    assert met > 200
    # What is left: pins that arise or end during the exchange, and recaptures that promote.
    assert len(unlike) <= 0.005 * same, unlike[:5]


@pytest.mark.parametrize(
    ("fen", "move", "won"),
    [
        # The two examples every text on static exchange evaluation uses (read from memory).
        ("1k1r4/1pp4p/p7/4p3/8/P5P1/1PP4P/2K1R3 w - - 0 1", "e1e5", 1),
        ("1k1r3q/1ppn3p/p4b2/4p3/8/P2N2P1/1PP1R1BP/2K1Q3 w - - 0 1", "d3e5", -2),
        # Common practice, no source: pins, en passant, promotion, discovered check.
        ("4k3/4n3/8/2p5/3B4/8/8/4RK2 w - - 0 1", "d4c5", 1),
        ("4k3/8/8/4q3/3P4/8/8/4K3 b - - 0 1", "e5d4", 1),
        ("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1", "e5d6", 1),
        ("1n2k3/P7/8/8/8/8/8/4K3 w - - 0 1", "a7b8q", 11),
        ("4k3/8/8/8/8/8/4N3/4RK2 w - - 0 1", "e2d4", 0),
        ("4k3/8/8/2p5/8/8/4N3/4RK2 w - - 0 1", "e2d4", 0),
        ("3rk3/8/8/2p5/8/5N2/8/5K2 w - - 0 1", "f3d4", -3),
    ],
)
def test_known_exchanges(fen: str, move: str, won: float) -> None:
    board = chess.Board(fen)
    assert exchanges.move_value(board, chess.Move.from_uci(move)) == won
    assert exchanges.hangs(board, chess.Move.from_uci(move)) == max(0, -won)


def test_a_pinned_man_guards_nothing_off_the_pin() -> None:
    # Black's knight on e7 is pinned by the rook: it may not take on d5.
    board = chess.Board("4k3/4n3/8/8/8/8/3N4/4RK2 w - - 0 1")
    assert exchanges.exchange_value(chess.Board("4k3/4n3/8/3B4/8/8/8/4RK2 w - - 0 1"), chess.D5, chess.BLACK) == 0
    assert exchanges.hangs(board, chess.Move.from_uci("d2e4")) == 0
    assert exchanges.exchange_value(chess.Board("4k3/4n3/8/3B4/8/8/8/R4K2 w - - 0 1"), chess.D5, chess.BLACK) == 3


@given(boards())
def test_exchanges_are_the_same_in_the_mirror(board: chess.Board) -> None:
    other = board.mirror()
    for move in board.legal_moves:
        twin = chess.Move(chess.square_mirror(move.from_square), chess.square_mirror(move.to_square), move.promotion)
        assert exchanges.move_value(board, move) == exchanges.move_value(other, twin)
        assert exchanges.captures_value(board, move) == exchanges.captures_value(other, twin)
        assert (exchanges.captures_value(board, move) > 0) == board.is_capture(move)
    assert mirrored(tuple(exchanges.loose_men(board, chess.WHITE))) == set(exchanges.loose_men(other, chess.BLACK))
