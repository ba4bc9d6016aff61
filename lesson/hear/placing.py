"""Men heard on uncertain squares -> the cheapest legal positions.

A slot is one man as heard: options of (cost, kind, square). The search keeps the cheapest partial boards slot by slot
(costs are -ln p and add up), then asks the rules of chess.
"""

from __future__ import annotations

import functools
import heapq
import math
import operator
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import chess

from lesson.hear.dictated_squares import Costs

# Partial boards kept after each slot: four times the answers wanted leaves room for the illegal ones. Hand-set.
WIDTH = 900
# Options of one slot further than this (-ln p) above its best are not tried, nor more than so many of them. Hand-set.
REACH, OPTIONS = 10.0, 12
# How much dearer than its rank in the beam a board may be because cheaper ones clash on a square. Hand-set.
CLASH = 1.0
# A recogniser that hears one letter for another does so again: what a repeated confusion costs once, and gains each
# time; only files up to so much dearer than the letter itself are tried. Hand-set.
ACCENT, ACCENT_REACH = 1.5, 3.5
# -ln p that the side named is to move / the other one is; that White / Black is when none was named. Hand-set.
TURN_NAMED, TURN_OTHER, TURN_WHITE, TURN_BLACK = 0.03, 3.5, 0.35, 1.2

# What a king on its own first two ranks is dearer for not having castled short, by file; common practice, no source.
_CASTLED = (1.3, 1.0, 0.8, 1.2, 1.0, 0.9, 0.0, 0.3)
# Pawns of one list are told from left to right: of 611 pairs of neighbours in our marked talks 5 are not.
BACKWARDS = -math.log(5 / 611)
_DOUBLED, _SAME_COLOUR_BISHOPS, _IN_CHECK, _EXTRA_QUEEN, _THIRD_OF_A_KIND = 0.5, 1.5, 1.0, 2.0, 3.0


@dataclass(frozen=True, slots=True)
class Slot:
    """One man as heard. `options` are (cost, kind, square), cheapest first; `absent` is the cost of its not being
    there at all, None for a man that surely is; `letters` are what was heard for the file; `listed`: it follows the
    slot before in one list of pawns."""

    color: bool
    options: tuple[tuple[float, int, int], ...]
    absent: float | None = None
    letters: str = ""
    listed: bool = False


@dataclass(frozen=True, slots=True)
class ScoredFen:
    """A legal position and its cost in -ln p (not normalised; smaller is likelier)."""

    fen: str
    cost: float


def make_slot(
    color: bool,
    kinds: Iterable[tuple[float, int]],
    files: Costs,
    ranks: Costs,
    letters: str = "",
    absent: float | None = None,
) -> Slot:
    """All combinations of a kind, a file and a rank, cheapest first, cut at REACH."""
    options: dict[tuple[int, int], float] = {}
    for kind_cost, kind in kinds:
        for file, file_cost in enumerate(files):
            for rank, rank_cost in enumerate(ranks):
                cost = kind_cost + file_cost + rank_cost + _unlikely(color, kind, file, rank)
                if cost < math.inf:
                    options[kind, chess.square(file, rank)] = cost
    return Slot(color, trim(options), absent, letters)


def trim(options: dict[tuple[int, int], float]) -> tuple[tuple[float, int, int], ...]:
    """(kind, square) -> cost, as a sorted row without what is out of reach."""
    best = min(options.values(), default=0.0)
    kept = ((cost, kind, square) for (kind, square), cost in options.items() if cost <= best + REACH)
    return tuple(sorted(kept))


def _unlikely(color: bool, kind: int, file: int, rank: int) -> float:
    own_rank = rank if color == chess.WHITE else 7 - rank
    return _CASTLED[file] if kind == chess.KING and own_rank < 2 else 0.0


def said_position(slots: Sequence[Slot], turn: bool | None) -> tuple[chess.Board, list[str]]:
    """The position exactly as heard (each slot's cheapest option) and what is wrong with it, in words."""
    board = chess.Board(None)
    board.turn = chess.WHITE if turn is None else turn
    flaws: list[str] = []
    for slot in slots:
        if slot.absent is not None or not slot.options:
            continue
        _, kind, square = slot.options[0]
        if old := board.piece_at(square):
            name = f"{_name(old.color, old.piece_type)} and {_name(slot.color, kind)}"
            flaws.append(f"two men on {chess.square_name(square)}: {name}")
        board.set_piece_at(square, chess.Piece(kind, slot.color))
    return board, flaws + wrong_with(board)


def wrong_with(board: chess.Board) -> list[str]:
    """What makes a position impossible, in words; nothing where it can be."""
    status = board.status()
    mover, other = ("White", "Black") if board.turn else ("Black", "White")
    table = {
        chess.STATUS_NO_WHITE_KING: "no white king",
        chess.STATUS_NO_BLACK_KING: "no black king",
        chess.STATUS_TOO_MANY_KINGS: "more than one king of a side",
        chess.STATUS_TOO_MANY_WHITE_PAWNS: "more than 8 white pawns",
        chess.STATUS_TOO_MANY_BLACK_PAWNS: "more than 8 black pawns",
        chess.STATUS_TOO_MANY_WHITE_PIECES: "more than 16 white men",
        chess.STATUS_TOO_MANY_BLACK_PIECES: "more than 16 black men",
        chess.STATUS_PAWNS_ON_BACKRANK: "a pawn on the first or the last rank",
        chess.STATUS_OPPOSITE_CHECK: f"{other} is in check although {mover} is to move",
        chess.STATUS_TOO_MANY_CHECKERS: "more checks at once than a move can give",
        chess.STATUS_IMPOSSIBLE_CHECK: "a check that no move can have given",
        chess.STATUS_BAD_CASTLING_RIGHTS: "castling allowed where king or rook has left its square",
        chess.STATUS_INVALID_EP_SQUARE: "no pawn that can be taken en passant there",
    }
    kings = [k for k in (board.king(chess.WHITE), board.king(chess.BLACK)) if k is not None]
    out = [words for flag, words in table.items() if status & flag]
    if len(kings) == 2 and chess.square_distance(*kings) < 2:
        out = ["the kings stand side by side", *[w for w in out if "in check although" not in w]]
    return out


def _name(color: bool, kind: int) -> str:
    return f"{'white' if color else 'black'} {chess.piece_name(kind)}"


def legal_positions(slots: Sequence[Slot], turn: bool | None, most: int = 300) -> tuple[ScoredFen, ...]:
    """Up to `most` distinct legal positions the slots allow, cheapest first. `turn` None keeps both sides to move."""
    found: list[tuple[float, int, bool, chess.Board]] = []
    for bits, cost in _boards([s for s in slots if s.options]):
        board = _board(bits)
        natural = cost + _unnatural(board)
        for side in (chess.WHITE, chess.BLACK):
            board.turn = side
            if board.is_valid():
                total = natural + _turn_cost(side, turn) + (_IN_CHECK if board.is_check() else 0.0)
                found.append((total, bits, side, board))
        if len(found) >= 2 * most:
            break
    out: list[ScoredFen] = []
    for total, _, side, board in sorted(found, key=lambda f: f[:3])[:most]:
        board.turn = side
        out.append(ScoredFen(board.fen(), round(total, 4)))
    return tuple(out)


def _boards(slots: Sequence[Slot]) -> list[tuple[int, float]]:
    """The beams of all accents together, cheapest first."""
    merged = _partial_boards(slots, WIDTH)
    for letter, file in _accents(slots):
        for bits, cost in _partial_boards([_bend(s, letter, file) for s in slots], WIDTH // 3).items():
            _keep(merged, bits, cost + ACCENT)
    return sorted(merged.items(), key=lambda item: (item[1], item[0]))


def _accents(slots: Sequence[Slot]) -> list[tuple[str, int]]:
    """Confusions worth a beam of their own: the letter heard most, at least three times, and files it may stand for."""
    counts = Counter(s.letters for s in slots if s.letters)
    letter, times = min(counts.items(), key=lambda item: (-item[1], item[0]), default=("", 0))
    if times < 3:
        return []
    best: dict[int, float] = {}
    for cost, _, square in next(s for s in slots if s.letters == letter).options:
        best.setdefault(chess.square_file(square), cost)
    floor = min(best.values())
    rivals = sorted((cost, file) for file, cost in best.items() if 0 < cost - floor < ACCENT_REACH)
    return [(letter, file) for _, file in rivals[:3]]


def _bend(slot: Slot, letter: str, file: int) -> Slot:
    if slot.letters != letter:
        return slot
    options = {(k, sq): c - ACCENT * (chess.square_file(sq) == file) for c, k, sq in slot.options}
    return replace(slot, options=trim(options))


def _turn_cost(side: bool, named: bool | None) -> float:
    if named is None:
        return TURN_WHITE if side else TURN_BLACK
    return TURN_NAMED if side == named else TURN_OTHER


def _partial_boards(slots: Sequence[Slot], width: int) -> dict[int, float]:
    """Boards as bit sets (see _bit) with their costs; equal boards reached two ways keep the cheaper cost."""
    beam: dict[tuple[int, int], float] = {(0, -1): 0.0}  # board and, while a list of pawns goes on, the file it is at
    for number, slot in enumerate(slots):
        grown: dict[tuple[int, int], float] = {}
        allowed = [o for o in slot.options if o[1] != chess.PAWN or 0 < chess.square_rank(o[2]) < 7]
        allowed = allowed if slot.absent is not None else allowed[:OPTIONS]
        goes_on = number + 1 < len(slots) and slots[number + 1].listed
        options = [
            (cost, _bit(slot.color, kind, square), square, square % 8 if goes_on and kind == chess.PAWN else -1, kind)
            for cost, kind, square in allowed
        ]
        # a full beam's worst board with this slot's best option bounds what can survive, but for clashes of squares
        full = len(beam) >= width
        bound = max(beam.values()) + min((o[0] for o in options), default=0.0) + CLASH if full else math.inf
        for (bits, file), so_far in beam.items():
            if slot.absent is not None:
                _keep(grown, (bits, -1), so_far + slot.absent)
            for cost, bit, square, at, kind in options:
                if so_far + cost > bound:
                    break
                if not bits & (_SQUARE << square):
                    back = BACKWARDS if kind == chess.PAWN and square % 8 < file else 0.0
                    _keep(grown, (bits | bit, at), so_far + cost + back)
        beam = dict(heapq.nsmallest(width, grown.items(), key=lambda item: (item[1], item[0])))
    boards: dict[int, float] = {}
    for (bits, _), cost in beam.items():
        _keep(boards, bits, cost)
    return boards


_Key = TypeVar("_Key")


def _keep(boards: dict[_Key, float], board: _Key, cost: float) -> None:
    if cost < boards.get(board, math.inf):
        boards[board] = cost


_PLANES = 12
_SQUARE = sum(1 << (64 * plane) for plane in range(_PLANES))


def _bit(color: bool, kind: int, square: int) -> int:
    plane = kind - 1 + (0 if color else 6)
    return 1 << (64 * plane + square)


def _board(bits: int) -> chess.Board:
    planes = [bits >> (64 * plane) & chess.BB_ALL for plane in range(_PLANES)]
    board = chess.Board(None)
    white, black = planes[:6], planes[6:]
    both = [w | b for w, b in zip(white, black, strict=True)]
    board.pawns, board.knights, board.bishops, board.rooks, board.queens, board.kings = both
    board.occupied_co[chess.WHITE] = _union(white)
    board.occupied_co[chess.BLACK] = _union(black)
    board.occupied = _union(both)
    return board


def _union(planes: Iterable[int]) -> int:
    return functools.reduce(operator.or_, planes, 0)


def _unnatural(board: chess.Board) -> float:
    """What a position is dearer for being odd: doubled pawns, two bishops of one colour, promoted men."""
    cost = 0.0
    for color in chess.COLORS:
        pawns = [chess.square_file(s) for s in board.pieces(chess.PAWN, color)]
        cost += _DOUBLED * (len(pawns) - len(set(pawns)))
        bishops = board.pieces(chess.BISHOP, color)
        shades = {bool(chess.BB_LIGHT_SQUARES & chess.BB_SQUARES[s]) for s in bishops}
        cost += _SAME_COLOUR_BISHOPS * max(0, min(len(bishops), 2) - max(len(shades), 1))
        cost += _EXTRA_QUEEN * max(0, len(board.pieces(chess.QUEEN, color)) - 1)
        for kind in (chess.KNIGHT, chess.BISHOP, chess.ROOK):
            cost += _THIRD_OF_A_KIND * max(0, len(board.pieces(kind, color)) - 2)
    return cost
