"""Moves as they were clearly said, and why one cannot be played."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import chess

from lesson.hear.phrases import Phrase
from lesson.judge.standing import listed, name

Why = Literal["blocked", "occupied", "pinned", "in check", "into check", "wrong side", "unreachable"]

# A square is clear where its file and rank cost so little (-ln p) and the next best so much more.
_HEARD, _APART = 0.7, 0.1
# A file of origin is one where it stands apart further than "a pawn" does from the a-pawn.
_NAMED = 2.6


@dataclass(frozen=True, slots=True)
class Spoken:
    """A move said clearly by words [first, last): `piece` a letter, "" where none was named; `target` its square, None
    for castling; `castle` "short", "long", "any" or ""; `file`, `rank` and `origin` where it comes from, None if not
    said."""

    first: int
    last: int
    piece: str
    target: int | None
    castle: str = ""
    take: bool = False
    file: int | None = None
    origin: int | None = None
    promote: str = ""
    rank: int | None = None


def clearly(phrase: Phrase) -> Spoken | None:
    """The move a phrase names beyond doubt of hearing, None if there is any."""
    if phrase.kind == "castle":
        return Spoken(phrase.first, phrase.last, "K", None, phrase.castle or "any")
    if phrase.kind != "square" or phrase.form != "full" or phrase.files is None or phrase.ranks is None:
        return None
    file, rank = _clear(phrase.files), _clear(phrase.ranks)
    if file is None or rank is None:
        return None
    origin = None
    if phrase.origin is not None:
        a, b = _clear(phrase.origin.files), _clear(phrase.origin.ranks)
        origin = chess.square(a, b) if a is not None and b is not None else None
    from_file = _clear(phrase.ofiles, _NAMED) if phrase.ofiles is not None else None
    target = chess.square(file, rank)
    piece = phrase.piece
    return Spoken(phrase.first, phrase.last, piece, target, "", phrase.take, from_file, origin, phrase.promote)


def _clear(costs: tuple[float, ...], apart: float = _APART) -> int | None:
    ranked = sorted(range(len(costs)), key=lambda i: costs[i])
    best, second = ranked[:2]
    return best if costs[best] <= _HEARD and costs[second] - costs[best] >= apart else None


def meant(spoken: Spoken, board: chess.Board) -> list[chess.Move]:
    """The legal moves that are what was said; several queens' worth of promotions count as the queen."""
    found = [move for move in board.legal_moves if is_said(spoken, board, move)]
    queens = [move for move in found if move.promotion in (None, chess.QUEEN)]
    return queens if not spoken.promote else found


def is_said(spoken: Spoken, board: chess.Board, move: chess.Move) -> bool:
    """Whether a move is what was said; a square alone may be any man's, a pawn's if one can go there."""
    if spoken.castle:
        short = chess.square_file(move.to_square) == 6
        return board.is_castling(move) and spoken.castle in ("any", "short" if short else "long")
    if move.to_square != spoken.target or board.is_castling(move):
        return False
    kind = chess.piece_symbol(board.piece_type_at(move.from_square) or 0).upper() if board else ""
    become = chess.piece_symbol(move.promotion).upper() if move.promotion else ""
    if spoken.piece and spoken.piece not in (kind, become):
        return False
    if not spoken.piece and spoken.file is not None and kind != "P":
        return False
    if spoken.promote in ("N", "B", "R", "Q") and become != spoken.promote:
        return False
    if spoken.file is not None and chess.square_file(move.from_square) != spoken.file:
        return False
    if spoken.rank is not None and chess.square_rank(move.from_square) != spoken.rank:
        return False
    if spoken.origin is not None and move.from_square != spoken.origin:
        return False
    return not spoken.take or board.is_capture(move)


def two_ways(spoken: Spoken, board: chess.Board) -> list[chess.Move]:
    """The legal moves between which the words leave the choice, [] where they do not."""
    if spoken.castle:
        # "Castles" alone is castling short: common practice, no source.
        return []
    found = meant(spoken, board)
    if not spoken.piece and not spoken.take:
        # A bare square is the pawn's; where only pieces can go, it is the one just spoken of.
        found = [m for m in found if board.piece_type_at(m.from_square) == chess.PAWN]
    return found if len(found) > 1 else []


def other_side(board: chess.Board) -> chess.Board:
    """The same men with the other side to move, checks or not."""
    other = board.copy(stack=False)
    other.turn = not board.turn
    other.ep_square = None
    return other


def why_not(spoken: Spoken, board: chess.Board, sided: bool = False) -> tuple[Why, str]:
    """Why a move that was said cannot be played here: the reason and a clause for the reader. `sided`: the words name
    the side to move as the one that makes it."""
    if spoken.castle:
        return _why_not_castle(spoken, board)
    assert spoken.target is not None
    target, side = spoken.target, board.turn
    square = chess.square_name(target)
    kind = chess.PIECE_SYMBOLS.index((spoken.piece or "P").lower())
    word = chess.piece_name(kind)
    if board.color_at(target) == side:
        return "occupied", f"{listed(board, [target])} of its own side stands there"
    for move in board.pseudo_legal_moves:
        if is_said(spoken, board, move):
            return _exposed(board, move)
    if (not sided or kind == chess.PAWN) and meant(spoken, other_side(board)):
        # A man named with its side may be put anywhere by mistake, a pawn's square is the other side's.
        return "wrong side", f"it is {name(side)}'s move"
    for origin in board.pieces(kind, side):
        if (spoken.file is None or chess.square_file(origin) == spoken.file) and (
            way := _blocked(board, origin, target)
        ):
            return "blocked", f"{listed(board, [origin])} is blocked by {listed(board, way[:1])}"
    if spoken.take and board.piece_at(target) is None:
        return "unreachable", f"there is nothing to take on {square}"
    return "unreachable", f"no {word} of {name(side)}'s can reach {square}"


def _exposed(board: chess.Board, move: chess.Move) -> tuple[Why, str]:
    """A move that only the own king forbids."""
    side = board.turn
    king = board.king(side)
    if move.from_square == king:
        after = board.copy(stack=False)
        after.push(move)
        guards = list(after.attackers(not side, move.to_square))
        return "into check", f"{listed(after, guards[:1])} guards {chess.square_name(move.to_square)}"
    if board.is_check():
        return "in check", f"{name(side)} is still in check from {listed(board, board.checkers())}"
    after = board.copy(stack=False)
    after.push(move)
    pinning = list(after.attackers(not side, king)) if king is not None else []
    return "pinned", f"{listed(board, [move.from_square])} is pinned by {listed(board, pinning[:1])}"


def _blocked(board: chess.Board, origin: int, target: int) -> list[int]:
    """The men between a man and a square it could go to on an empty board, nearest first; [] where it could not."""
    piece = board.piece_at(origin)
    assert piece is not None
    if piece.piece_type == chess.PAWN:
        step = 8 if piece.color else -8
        double = chess.square_rank(origin) == (1 if piece.color else 6)
        way = [origin + step, origin + 2 * step][: 1 + double]
        if target not in way:
            return []
        return [s for s in way[: way.index(target) + 1] if board.piece_at(s)]
    empty = chess.Board(None)
    empty.set_piece_at(origin, piece)
    if target not in empty.attacks(origin):
        return []
    between = [s for s in chess.SquareSet(chess.between(origin, target)) if board.piece_at(s)]
    return sorted(between, key=lambda s: chess.square_distance(s, origin))


def _why_not_castle(spoken: Spoken, board: chess.Board) -> tuple[Why, str]:
    side = board.turn
    if meant(spoken, other_side(board)) and not board.has_castling_rights(side):
        return "wrong side", f"it is {name(side)}'s move"
    if board.is_check():
        return "in check", f"{name(side)} is in check from {listed(board, board.checkers())}"
    kings = [
        short for short in (True, False)
        if spoken.castle in ("any", "short" if short else "long")
        and (board.has_kingside_castling_rights(side) if short else board.has_queenside_castling_rights(side))
    ]  # fmt: skip
    if not kings:
        return "unreachable", f"{name(side)} has no right left to castle so"
    rank = 0 if side else 7
    for short in kings:
        files = (5, 6) if short else (1, 2, 3)
        men = [s for f in files if board.piece_at(s := chess.square(f, rank))]
        if men:
            return "blocked", f"{listed(board, men[:1])} stands between king and rook"
    if meant(spoken, other_side(board)):
        return "wrong side", f"it is {name(side)}'s move"
    return "into check", "the king would cross or reach a guarded square"


def nearest(spoken: Spoken, board: chess.Board, most: int = 3) -> list[str]:
    """The legal moves most like what was said, in SAN, the likest first."""
    return [board.san(move) for _, _, move in sorted(_distances(spoken, board), key=lambda row: row[:2])[:most]]


def _distances(spoken: Spoken, board: chess.Board) -> Iterator[tuple[int, str, chess.Move]]:
    for move in board.legal_moves:
        kind = chess.piece_symbol(board.piece_type_at(move.from_square) or 0).upper()
        if spoken.target is None:
            far = 0 if board.is_castling(move) else 9 if kind != "K" else 3
        else:
            same_line = (move.to_square ^ spoken.target) & 7 == 0 or move.to_square >> 3 == spoken.target >> 3
            far = 2 * chess.square_distance(move.to_square, spoken.target) - same_line
            far += 3 * (kind != (spoken.piece or "P"))
        yield far, move.uci(), move
