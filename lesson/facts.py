"""What is true on a board. Knows no words of a talk, takes a `chess.Board` and never changes it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import chess

from lesson.exchanges import VALUES, exchange_value, value


def attackers(board: chess.Board, square: chess.Square, side: chess.Color) -> tuple[chess.Square, ...]:
    """Squares of a side's men that attack a square, pinned men included, in board order."""
    return tuple(board.attackers(side, square))


def defenders(board: chess.Board, square: chess.Square) -> tuple[chess.Square, ...]:
    """Squares of the men that defend the man on a square; () for an empty square."""
    side = board.color_at(square)
    return () if side is None else attackers(board, square, side)


# ---------------------------------------------------------------------------------------------------------- motifs


@dataclass(frozen=True, slots=True)
class LineTactic:
    """Three men on one line: `attacker` looks at `front`, and through it at `behind`."""

    attacker: chess.Square
    front: chess.Square
    behind: chess.Square


def fork_targets(board: chess.Board, square: chess.Square) -> tuple[chess.Square, ...]:
    """Enemy men that the man on a square threatens: the king, what is worth more, what could be won there.

    Two or more are a fork (a double attack).
    """
    side = board.color_at(square)
    if side is None:
        return ()
    mine = value(board, square)
    out = []
    for target in board.attacks(square) & board.occupied_co[not side]:
        if value(board, target) > mine or exchange_value(board, target, side) > 0:
            out.append(target)
    return tuple(out)


def _line_tactics(board: chess.Board, side: chess.Color) -> list[LineTactic]:
    """Every line on which a man of `side` sees one enemy man and a second one right behind it."""
    found = []
    sliders = board.occupied_co[side] & (board.bishops | board.rooks | board.queens)
    for attacker in chess.scan_forward(sliders):
        for front in board.attacks(attacker) & board.occupied_co[not side]:
            beyond = chess.ray(attacker, front) & ~chess.between(attacker, front) & ~chess.BB_SQUARES[front]
            for behind in chess.scan_forward(beyond & board.occupied_co[not side]):
                if chess.between(attacker, behind) & board.occupied == chess.BB_SQUARES[front]:
                    found.append(LineTactic(attacker, front, behind))
    return found


def pins(board: chess.Board, side: chess.Color, *, absolute_only: bool = False) -> tuple[LineTactic, ...]:
    """Pins that `side` holds: the man in front shields a king (absolute) or a man worth more than itself (relative)."""
    kings = board.kings
    return tuple(
        t
        for t in _line_tactics(board, side)
        if (kings & chess.BB_SQUARES[t.behind] if absolute_only else value(board, t.behind) > value(board, t.front))
    )


def skewers(board: chess.Board, side: chess.Color) -> tuple[LineTactic, ...]:
    """Skewers that `side` holds: the man in front is a king, or worth more than its attacker and at least as much as
    the man behind; the man behind could be won."""
    out = []
    for t in _line_tactics(board, side):
        attacker, front, behind = value(board, t.attacker), value(board, t.front), value(board, t.behind)
        threatened = board.kings & chess.BB_SQUARES[t.front] or front > attacker
        without_front = board.attackers_mask(not side, t.behind, board.occupied & ~chess.BB_SQUARES[t.front])
        if threatened and front >= behind and behind > VALUES[chess.PAWN] and (behind > attacker or not without_front):
            out.append(t)
    return tuple(out)


def discovered_attacks(board: chess.Board, move: chess.Move) -> tuple[tuple[chess.Square, chess.Square], ...]:
    """(attacker, target) for every enemy man newly attacked because the mover left a line; a king is a target too."""
    side = board.turn
    sliders = board.occupied_co[side] & (board.bishops | board.rooks | board.queens)
    sliders &= ~chess.BB_SQUARES[move.from_square]
    after = board.copy(stack=False)
    after.push(move)
    found = []
    for attacker in chess.scan_forward(sliders & after.occupied_co[side]):
        fresh = after.attacks_mask(attacker) & ~board.attacks_mask(attacker) & after.occupied_co[not side]
        found += [(attacker, target) for target in chess.scan_forward(fresh)]
    return tuple(found)


# ------------------------------------------------------------------------------------------------- pawns and files


def _pawns(board: chess.Board, side: chess.Color) -> chess.SquareSet:
    return board.pieces(chess.PAWN, side)


def passed_pawns(board: chess.Board, side: chess.Color) -> tuple[chess.Square, ...]:
    """Pawns with no enemy pawn before them on their own or a neighbouring file."""
    out = []
    for square in _pawns(board, side):
        file, rank = chess.square_file(square), chess.square_rank(square)
        for enemy in _pawns(board, not side):
            ahead = chess.square_rank(enemy) - rank
            if abs(chess.square_file(enemy) - file) <= 1 and (ahead > 0 if side else ahead < 0):
                break
        else:
            out.append(square)
    return tuple(out)


def isolated_pawns(board: chess.Board, side: chess.Color) -> tuple[chess.Square, ...]:
    """Pawns with no pawn of their own on a neighbouring file."""
    files = {chess.square_file(p) for p in _pawns(board, side)}
    return tuple(p for p in _pawns(board, side) if not files & {chess.square_file(p) - 1, chess.square_file(p) + 1})


def doubled_pawns(board: chess.Board, side: chess.Color) -> tuple[chess.Square, ...]:
    """Pawns that share their file with another pawn of their own."""
    files = [chess.square_file(p) for p in _pawns(board, side)]
    return tuple(p for p in _pawns(board, side) if files.count(chess.square_file(p)) > 1)


def open_files(board: chess.Board) -> tuple[int, ...]:
    """Files (0 = a) without any pawn."""
    return tuple(f for f in range(8) if not board.pawns & chess.BB_FILES[f])


def half_open_files(board: chess.Board, side: chess.Color) -> tuple[int, ...]:
    """Files (0 = a) without a pawn of `side` but with one of the other side."""
    own, other = (board.pawns & board.occupied_co[s] for s in (side, not side))
    return tuple(f for f in range(8) if not own & chess.BB_FILES[f] and other & chess.BB_FILES[f])


# -------------------------------------------------------------------------------------------------------- material


def men(board: chess.Board, side: chess.Color) -> tuple[int, int, int, int, int]:
    """How many pawns, knights, bishops, rooks and queens a side has."""
    pawns, knights, bishops, rooks, queens = (
        (kind & board.occupied_co[side]).bit_count()
        for kind in (board.pawns, board.knights, board.bishops, board.rooks, board.queens)
    )
    return pawns, knights, bishops, rooks, queens


def material_balance(board: chess.Board) -> float:
    """White's material less Black's, in pawns."""
    pairs = zip(VALUES[1:6], men(board, chess.WHITE), men(board, chess.BLACK), strict=True)
    return sum(v * (w - b) for v, w, b in pairs)


def bishop_pair(board: chess.Board, side: chess.Color) -> bool:
    """Whether a side has bishops on both colours."""
    bishops = board.bishops & board.occupied_co[side]
    return bool(bishops & chess.BB_LIGHT_SQUARES and bishops & chess.BB_DARK_SQUARES)


def opposite_bishops(board: chess.Board) -> bool:
    """Whether each side has exactly one bishop, and they stand on different colours."""
    white, black = (board.bishops & board.occupied_co[s] for s in (chess.WHITE, chess.BLACK))
    if white.bit_count() != 1 or black.bit_count() != 1:
        return False
    return bool(white & chess.BB_LIGHT_SQUARES) != bool(black & chess.BB_LIGHT_SQUARES)


# ------------------------------------------------------------------------------------------------------ calculation


def only_move(board: chess.Board) -> chess.Move | None:
    """The one legal move, None if there are none or several."""
    moves = board.generate_legal_moves()
    first = next(moves, None)
    return first if first is not None and next(moves, None) is None else None


@dataclass(frozen=True, slots=True)
class Mate:
    """The answer to "is there mate in n?". `line` is one longest defence, () if there is none; `decided` is False when
    the search ran out of nodes, and then nothing is known."""

    line: tuple[chess.Move, ...]
    decided: bool


class _OutOfNodes(Exception):
    pass


class _MateSearch:
    def __init__(self, board: chess.Board, max_nodes: int) -> None:
        self.board = board
        self.nodes = max_nodes

    def attack(self, moves: int) -> tuple[chess.Move, ...]:
        for move in self._candidates(moves):
            self.board.push(move)
            answer = self.defend(moves - 1)
            self.board.pop()
            if answer is not None:
                return (move, *answer)
        return ()

    def defend(self, moves: int) -> tuple[chess.Move, ...] | None:
        """The longest losing defence, () when it is mate already, None when something saves the defender."""
        self.nodes -= 1
        if self.nodes < 0:
            raise _OutOfNodes
        replies = list(self.board.legal_moves)
        if not replies:
            return () if self.board.is_check() else None
        if moves == 0:
            return None
        longest: tuple[chess.Move, ...] = ()
        for reply in replies:
            self.board.push(reply)
            mate = next((m for n in range(1, moves + 1) if (m := self.attack(n))), ())
            self.board.pop()
            if not mate:
                return None
            if len(mate) >= len(longest):
                longest = (reply, *mate)
        return longest

    def _candidates(self, moves: int) -> list[chess.Move]:
        checks: list[chess.Move] = []
        quiet: list[chess.Move] = []
        for move in self.board.legal_moves:
            (checks if self.board.gives_check(move) else quiet).append(move)
        # The last move of a mate is a check; before it a quiet move may do.
        return checks if moves == 1 else checks + quiet


# Under review the same claims are judged again after every answer, and a mate is the dearest of them.
@lru_cache(maxsize=4096)
def _forced_mate(fen: str, moves: int, max_nodes: int) -> Mate:
    search = _MateSearch(chess.Board(fen), max_nodes)
    try:
        for n in range(1, moves + 1):
            if line := search.attack(n):
                return Mate(line, True)
    except _OutOfNodes:
        return Mate((), False)
    return Mate((), True)


def forced_mate(board: chess.Board, moves: int, max_nodes: int = 50_000) -> Mate:
    """Whether the side to move mates in at most `moves` moves against any defence; the shortest mate is found.

    Meant for `moves` up to 3 or 4: the search is exhaustive. About 20 000 nodes a second.
    """
    return _forced_mate(board.fen(), moves, max_nodes)
