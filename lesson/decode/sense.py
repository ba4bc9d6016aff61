"""What makes a move a likely one before anything is heard: where the man comes from and what it does there."""

from __future__ import annotations

import chess

from lesson.decode.fit import Features
from lesson.decode.position import Choice

_OPENING = 15  # moves; a rule of thumb for when men are still being brought out


def sense(choice: Choice, before: Choice | None, own: Choice | None, prefix: str) -> Features:
    """Features of a move after the move `before`; `own` is the last one of the same side. The names begin with
    `prefix`."""
    return [(prefix + name, 1.0) for name in (*_stands(choice, before, own), *_pawn(choice))]


def _stands(choice: Choice, before: Choice | None, own: Choice | None) -> list[str]:
    """Where the man comes from: home, just moved, just attacked."""
    out = []
    board = choice.board
    home = 0 if board.turn else 7
    minor = choice.piece in (chess.KNIGHT, chess.BISHOP)
    if minor and choice.source // 8 == home and board.fullmove_number <= _OPENING:
        out.append("develop")
    if own is not None and own.target == choice.source:
        out.append("same")
        if own.source == choice.target:
            out.append("undo")
    if before is not None and choice.piece > 1 and board.attacks_mask(before.target) >> choice.source & 1:
        out.append("flees")
    if choice.piece > 1 and not choice.castling and not choice.captured:
        forward = (choice.target // 8 - choice.source // 8) * (1 if board.turn else -1)
        if forward < 0:
            out.append("back")
    return out


def _pawn(choice: Choice) -> list[str]:
    if choice.piece != chess.PAWN:
        return []
    board = choice.board
    attacked = chess.BB_PAWN_ATTACKS[board.turn][choice.target] & board.occupied_co[not board.turn]
    out = ["kick"] if attacked & ~board.pawns else ["lever"] if attacked else []
    if abs(choice.target - choice.source) == 16:
        out.append("two")
    return out
