"""Positions and the told tree, shared by all hypotheses: every position is worked out once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import chess

from lesson.exchanges import move_value
from lesson.openings import Key, book, position_key

LETTER = " PNBRQK"
_SQUARES = chess.SQUARE_NAMES
_CASTLED = chess.BB_C1 | chess.BB_G1 | chess.BB_C8 | chess.BB_G8
_PROMOTION = ("", "", "n", "b", "r", "q", "k")


class Choice:
    """One legal move with what the ear asks about it; the dear questions are answered once, when first asked."""

    __slots__ = (
        "_check",
        "_hang",
        "board",
        "captured",
        "castling",
        "move",
        "piece",
        "promotion",
        "source",
        "target",
        "uci",
    )

    def __init__(self, board: chess.Board, move: chess.Move) -> None:
        self.board = board
        self.move = move
        self.uci = _SQUARES[move.from_square] + _SQUARES[move.to_square] + _PROMOTION[move.promotion or 0]
        self.source = move.from_square
        self.target = move.to_square
        self.piece = board.piece_type_at(move.from_square) or 0
        captured = board.piece_type_at(move.to_square)
        if captured is None and self.piece == chess.PAWN and move.from_square % 8 != move.to_square % 8:
            captured = chess.PAWN
        self.castling = ""
        if self.piece == chess.KING and abs(move.from_square % 8 - move.to_square % 8) == 2:
            self.castling = "short" if move.to_square % 8 == 6 else "long"
        self.captured = captured or 0
        self.promotion = move.promotion or 0
        self._check: int | None = None
        self._hang: float | None = None

    @property
    def check(self) -> int:
        """0 no check, 1 check, 2 mate."""
        if self._check is None:
            if _gives_check(self):
                self.board.push(self.move)
                self._check = 2 if not any(self.board.generate_legal_moves()) else 1
                self.board.pop()
            else:
                self._check = 0
        return self._check

    @property
    def hang(self) -> float:
        """Pawns the mover loses on the target square, 0 if none."""
        return max(0.0, -self.gain)

    @property
    def gain(self) -> float:
        """Pawns the move wins on its target square, exchanges counted; negative if it loses some."""
        if self._hang is None:
            self._hang = move_value(self.board, self.move)
        return self._hang


def _gives_check(choice: Choice) -> bool:
    """Whether a move gives check, mostly without making it."""
    board = choice.board
    if choice.castling or choice.promotion or (choice.captured == chess.PAWN and choice.target == board.ep_square):
        return board.gives_check(choice.move)
    kings = board.kings & board.occupied_co[not board.turn]
    if not kings:
        return False
    king = kings.bit_length() - 1
    source, target = chess.BB_SQUARES[choice.source], chess.BB_SQUARES[choice.target]
    occupied = (board.occupied & ~source) | target
    if choice.piece == chess.PAWN:
        direct = chess.BB_PAWN_ATTACKS[board.turn][choice.target] & kings
    elif choice.piece == chess.KNIGHT:
        direct = chess.BB_KNIGHT_ATTACKS[choice.target] & kings
    elif choice.piece == chess.KING:
        direct = 0
    else:
        direct = 0
        if choice.piece != chess.ROOK:
            direct |= chess.BB_DIAG_ATTACKS[choice.target][chess.BB_DIAG_MASKS[choice.target] & occupied]
        if choice.piece != chess.BISHOP:
            direct |= chess.BB_RANK_ATTACKS[choice.target][chess.BB_RANK_MASKS[choice.target] & occupied]
            direct |= chess.BB_FILE_ATTACKS[choice.target][chess.BB_FILE_MASKS[choice.target] & occupied]
        direct &= kings
    if direct:
        return True
    if not chess.ray(choice.source, king):
        return False
    return bool(board.attackers_mask(board.turn, king, occupied) & occupied & ~target & ~source)


@dataclass(eq=False)
class Position:
    """A board and its legal moves; `null` is the same board with the other side to move (None when in check).
    `prepared` are the moves (UCI) of the teacher's own analysis here, None where there is no analysis at all."""

    board: chess.Board
    prepared: frozenset[str] | None = None
    _made: dict[chess.Move, Choice] = field(default_factory=dict)

    @cached_property
    def moves(self) -> list[chess.Move]:
        """All legal moves, bare."""
        return list(self.board.generate_legal_moves())

    def choice(self, move: chess.Move) -> Choice:
        """The one Choice object of a legal move."""
        made = self._made.get(move)
        if made is None:
            made = self._made[move] = Choice(self.board, move)
        return made

    @cached_property
    def choices(self) -> tuple[Choice, ...]:
        return tuple(self.choice(move) for move in self.moves)

    def moves_to(self, piece: int, squares: int) -> list[chess.Move]:
        """The legal moves of a kind of man (0: any) to the squares (a bit set); few positions are asked for more."""
        board = self.board
        men = board.pieces_mask(piece, board.turn) if piece else board.occupied_co[board.turn]
        if not men:
            return []
        # the rules library knows castling by the rook's square
        to = squares | chess.BB_CORNERS if squares & _CASTLED and men & board.kings else squares
        return [move for move in board.generate_legal_moves(men, to) if squares >> move.to_square & 1]

    def may_reach(self, piece: int, squares: int) -> bool:
        """False if no man of this kind (0: any) can go to one of the squares (a bit set); True where one of the side to
        move goes that way, pinned or not."""
        board = self.board
        if not piece:
            return True
        men = board.pieces_mask(piece, board.turn)
        if not men:
            return False
        if piece == chess.PAWN:
            if board.turn:
                return bool(men & (squares >> 7 | squares >> 8 | squares >> 9 | squares >> 16))
            return bool(men & (squares << 7 | squares << 8 | squares << 9 | squares << 16))
        if piece == chess.KING:
            return bool(squares & (chess.BB_KING_ATTACKS[men.bit_length() - 1] | _CASTLED))
        return any(board.attackers_mask(board.turn, s) & men for s in chess.scan_forward(squares))

    @cached_property
    def captures(self) -> list[Choice]:
        return [self.choice(move) for move in self.board.generate_legal_captures()]

    @cached_property
    def castlings(self) -> list[Choice]:
        return [c for c in map(self.choice, self.moves_to(chess.KING, _CASTLED)) if c.castling]

    @cached_property
    def by_uci(self) -> dict[str, Choice]:
        return {c.uci: c for c in self.choices}

    @cached_property
    def null(self) -> Position | None:
        if self.board.is_check():
            return None
        other = self.board.copy(stack=False)
        other.push(chess.Move.null())
        return Position(other)

    @cached_property
    def known(self) -> dict[str, int]:
        """Moves known to opening theory here -> number of known lines."""
        return book().moves(self.board) if self.board.fullmove_number <= 25 else {}


def bits(mask: int) -> Iterator[int]:
    """The numbers of the bits that are set, ascending."""
    text = bin(mask)[:1:-1]
    at = text.find("1")
    while at >= 0:
        yield at
        at = text.find("1", at + 1)


class Kept(NamedTuple):
    """A node as it is written down, to be put into another tree under its number; what was worked out for its position
    is left behind, because it would take a gigabyte for an hour's talk."""

    parent: int
    choice: Choice | None
    board: chess.Board
    line: int


class Tree:
    """All nodes any hypothesis has thought of. A node is an int; a hypothesis holds its nodes as the bits of an int.
    `brood` are a node's children likewise, `line` the node and all before it; `prepared` are the moves of the teacher's
    own analysis by position."""

    def __init__(self, prepared: Mapping[Key, frozenset[str]] | None = None) -> None:
        self._prepared = prepared
        self.parent: list[int] = []
        self.uci: list[str] = []
        self.choice: list[Choice | None] = []
        self.position: list[Position] = []
        self.depth: list[int] = []
        self.root: list[int] = []
        self.children: list[dict[str, int]] = []
        self.brood: list[int] = []
        self.line: list[int] = []
        self._paths: dict[int, tuple[int, ...]] = {}
        self._free: list[int] = []
        self._cache: dict[tuple[object, int, int], Position] = {}

    def add_root(self, board: chess.Board) -> int:
        """A chapter's start."""
        return self._add(-1, "", None, self._shared(board), 0)

    def child(self, node: int, choice: Choice) -> int:
        """The node after a legal move."""
        known = self.children[node].get(choice.uci)
        if known is not None:
            return known
        board = choice.board.copy(stack=False)
        board.push(choice.move)
        new = self._add(node, choice.uci, choice, self._shared(board), self.depth[node] + 1)
        self.children[node][choice.uci] = new
        self.brood[node] |= 1 << new
        return new

    def path(self, node: int) -> tuple[int, ...]:
        """The nodes from the chapter's start to `node`, both included."""
        found = self._paths.get(node)
        if found is None:
            up = self.parent[node]
            found = (node,) if up < 0 else (*self.path(up), node)
            self._paths[node] = found
        return found

    def rest(self, live: int) -> None:
        """Gives up the nodes that no hypothesis holds any more, and their numbers to new ones; the bits of `live` are
        those held. Numbers that only grew would make the bits of a long talk's hypotheses take gigabytes."""
        held = bin(live)[:1:-1]
        alive = [number < len(held) and held[number] == "1" for number in range(len(self.parent))]
        for node, (parent, stays) in enumerate(zip(self.parent, alive, strict=True)):
            if not stays:
                if parent >= 0 and alive[parent]:
                    self.children[parent].pop(self.uci[node], None)
                    self.brood[parent] &= ~(1 << node)
                self._paths.pop(node, None)
        self._free = [node for node in reversed(range(len(alive))) if not alive[node]]
        shared = {id(position) for position, stays in zip(self.position, alive, strict=True) if stays}
        self._cache = {key: position for key, position in self._cache.items() if id(position) in shared}
        for node in self._free:
            self.parent[node], self.uci[node], self.choice[node] = -1, "", None
            self.position[node], self.children[node], self.brood[node] = _NOWHERE, {}, 0

    def kept(self, held: int, before: Mapping[int, Kept]) -> dict[int, Kept]:
        """The nodes whose bits are in `held`, written down; a record that is already in `before` is used again."""
        out: dict[int, Kept] = {}
        for node in bits(held):
            made = Kept(self.parent[node], self.choice[node], self.position[node].board, self.line[node])
            old = before.get(node)
            same = old is not None and old.board is made.board and old.line == made.line
            out[node] = old if old is not None and same else made
        return out

    @classmethod
    def of(cls, kept: Mapping[int, Kept], prepared: Mapping[Key, frozenset[str]] | None) -> Tree:
        """The tree of nodes written down, all under their old numbers."""
        tree = cls(prepared)
        size = max(kept, default=-1) + 1
        tree.parent, tree.depth, tree.root = [-1] * size, [0] * size, [0] * size
        tree.uci, tree.choice, tree.position = [""] * size, [None] * size, [_NOWHERE] * size
        tree.children, tree.brood, tree.line = [{} for _ in range(size)], [0] * size, [0] * size
        for node, (parent, choice, board, line) in kept.items():
            tree.parent[node], tree.choice[node], tree.line[node] = parent, choice, line
            tree.position[node] = tree._made(board)
            tree.depth[node] = line.bit_count() - 1
            if choice is not None:
                tree.uci[node] = choice.uci
                tree.children[parent][choice.uci] = node
                tree.brood[parent] |= 1 << node
        for node in sorted(kept, key=tree.depth.__getitem__):
            parent = kept[node].parent
            tree.root[node] = node if parent < 0 else tree.root[parent]
        tree._free = [node for node in reversed(range(size)) if node not in kept]
        return tree

    def _shared(self, board: chess.Board) -> Position:
        key = (board._transposition_key(), board.fullmove_number, board.halfmove_clock)
        position = self._cache.get(key)
        if position is None:
            position = self._cache[key] = self._made(board)
        return position

    def _made(self, board: chess.Board) -> Position:
        mine = None if self._prepared is None else self._prepared.get(position_key(board), frozenset())
        return Position(board, mine)

    def _add(self, parent: int, uci: str, choice: Choice | None, position: Position, depth: int) -> int:
        if self._free:
            node = self._free.pop()
            self.parent[node], self.uci[node], self.choice[node], self.position[node] = parent, uci, choice, position
            self.depth[node], self.root[node] = depth, node if parent < 0 else self.root[parent]
            self.line[node] = 1 << node | (self.line[parent] if parent >= 0 else 0)
            return node
        node = len(self.parent)
        self.parent.append(parent)
        self.uci.append(uci)
        self.choice.append(choice)
        self.position.append(position)
        self.depth.append(depth)
        self.root.append(node if parent < 0 else self.root[parent])
        self.children.append({})
        self.brood.append(0)
        self.line.append(1 << node | (self.line[parent] if parent >= 0 else 0))
        return node


_NOWHERE = Position(chess.Board(None))
