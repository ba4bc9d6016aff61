"""Why a move cannot be played, against python-chess."""

from __future__ import annotations

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.check.legal import Spoken, meant, nearest, why_not
from tests.test_facts import boards


@given(boards(), st.sampled_from("PNBRQK"), st.integers(0, 63))
def test_the_reason_is_what_python_chess_knows(board: chess.Board, piece: str, target: int) -> None:
    spoken = Spoken(0, 1, piece, target)
    if meant(spoken, board):
        return
    why, clause = why_not(spoken, board)
    kind = chess.PIECE_SYMBOLS.index(piece.lower())
    candidates = [
        move
        for move in board.pseudo_legal_moves
        if move.to_square == target and board.piece_type_at(move.from_square) == kind and not board.is_castling(move)
    ]
    assert clause
    assert (why == "occupied") == (board.color_at(target) == board.turn)
    if why == "pinned":
        # En passant may uncover the king although neither pawn is pinned.
        assert any(board.is_pinned(board.turn, m.from_square) or board.is_en_passant(m) for m in candidates)
        assert not board.is_check()
    if why == "in check":
        assert board.is_check()
    if why in ("pinned", "in check", "into check"):
        assert candidates
    if why in ("blocked", "unreachable", "wrong side"):
        assert not candidates
    if why == "into check":
        assert piece == "K"
        assert board.is_attacked_by(not board.turn, target) or board.is_check()
    assert len(set(nearest(spoken, board))) == min(3, board.legal_moves.count())


@pytest.mark.parametrize(
    ("fen", "castle", "why"),
    [
        # FIDE Laws of Chess 2023, article 3.8.2: the right is lost; prevented for the time being.
        ("4k3/8/8/8/8/8/8/4K2R w - - 0 1", "short", "unreachable"),
        ("4k3/8/8/8/8/8/8/4KB1R w K - 0 1", "short", "blocked"),
        ("4k3/8/8/8/4r3/8/8/4K2R w K - 0 1", "short", "in check"),
        ("4k3/8/8/8/5r2/8/8/4K2R w K - 0 1", "short", "into check"),
        ("4k2r/8/8/8/8/8/8/4K3 w k - 0 1", "short", "wrong side"),
    ],
)
def test_why_castling_is_not_possible(fen: str, castle: str, why: str) -> None:
    assert why_not(Spoken(0, 1, "K", None, castle), chess.Board(fen))[0] == why
