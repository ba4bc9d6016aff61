"""Positions told as a change of the one before: "the same position with the pawn on h3", "put the king on d6 instead".

An edit knows no board; `edited` applies it to the position the caller stands in. "Put the rook on f5 instead" may also
tell a move: both are offered, the decoder chooses.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import chess

from lesson.hear.dictation import MOST, Dictation
from lesson.hear.draft import KINDS
from lesson.hear.placing import TURN_NAMED, TURN_OTHER, ScoredFen, make_slot
from lesson.hear.position_words import Heardable, hear_items

Verb = Literal["put", "add", "remove"]

# How many items an edit runs on after its cue, and the longest order ("put the black king on d6 instead").
_REACH, _ORDER = 14, 8
# -ln p per step (see _away) that this man is the one meant, and that a man put somewhere is a further one; hand-set.
_FAR, _FURTHER = 0.4, 2.0


@dataclass(frozen=True, slots=True)
class Change:
    """One man put elsewhere, added or removed. `color` None when the side was not said; `squares` are (cost, square),
    cheapest first, empty when no square was said."""

    verb: Verb
    color: bool | None
    kind: int
    squares: tuple[tuple[float, int], ...]


@dataclass(frozen=True, slots=True)
class Edit:
    """A change of the position before, told by words [first, last). `turn` is the side named to move, if any."""

    first: int
    last: int
    changes: tuple[Change, ...]
    turn: bool | None


def find_edits(words: Sequence[str], language: str = "en") -> list[Edit]:
    """Every stretch that changes a known position, in order. Stretches inside a whole dictation are also found."""
    heard = hear_items(words, language)
    found: list[Edit] = []
    at = 0
    while at < len(heard.items):
        edit, end = _edit_at(heard, at)
        if edit:
            found.append(edit)
        at = end
    return found


def _cues(heard: Heardable, token: int) -> set[str]:
    return {s.value for s in heard.symbols.get(token, ()) if s.kind == "edit"}


def _edit_at(heard: Heardable, at: int) -> tuple[Edit | None, int]:
    """The edit whose cue is item `at`, and the item to go on from."""
    cues = _cues(heard, heard.items[at].first)
    if not cues & {"same", "put"}:
        return None, at + 1
    walk = _Walk(heard, at)
    whole = "same" in cues and (walk.changes or walk.turn is not None)
    if not whole and not ("put" in cues and walk.instead and len(walk.changes) == 1 and walk.end - at <= _ORDER):
        return None, at + 1
    words = [heard.tokens[heard.items[at].first].word, heard.tokens[heard.items[walk.end - 1].last - 1].word + 1]
    return Edit(words[0], words[1], tuple(walk.changes), walk.turn), walk.end


class _Walk:
    """What the items after a cue say, up to the end of the sentence or a verb of motion."""

    def __init__(self, heard: Heardable, at: int) -> None:
        self.changes: list[Change] = []
        self.turn: bool | None = None
        self.instead = False
        self.end = at + 1
        self._order = "put" in _cues(heard, heard.items[at].first)  # an order ends with its "instead"
        self._verb: Verb = "put"
        self._color: bool | None = None
        self._kind: int | None = None
        for index in range(at, min(at + _REACH, len(heard.items))):
            if not self._take(heard, index) or heard.items[index].stop == 2:
                break

    def _take(self, heard: Heardable, index: int) -> bool:
        item = heard.items[index]
        cues = {c for token in range(item.first, item.last) for c in _cues(heard, token)}
        if "remove" in cues:
            self._verb = "remove"
        elif "add" in cues:
            self._verb = "add"
        if "of" in cues:
            return False
        if "instead" in cues:
            self.instead, self.end = True, index + 1
            if self._order and self.changes:
                return False
        elif item.kind == "stop":
            return False
        if item.kind == "side":
            self._color = item.value == "w"
        elif item.kind == "turn":
            self.turn, self.end = item.value == "w", index + 1
        elif item.kind in ("man", "men"):
            self._kind = KINDS[item.value]
        elif item.square and self._kind:
            slot = make_slot(chess.WHITE, [(0.0, self._kind)], item.square.files, item.square.ranks)
            self.changes.append(Change(self._verb, self._color, self._kind, tuple((c, s) for c, _, s in slot.options)))
            self.end = index + 1
        return True


def edited(edit: Edit, previous: str, most: int = MOST) -> Dictation:
    """The positions an edit may mean after the position `previous` (a FEN), cheapest first.

    Raises: ValueError if `previous` is not a FEN.
    """
    board = chess.Board(previous)
    boards = {board.board_fen(): 0.0}
    flaws: list[str] = []
    for change in edit.changes:
        grown: dict[str, float] = {}
        for placed, so_far in boards.items():
            for cost, result in _changed(placed, change):
                grown[result] = min(grown.get(result, so_far + cost), so_far + cost)
        if not grown:
            flaws.append(_impossible(change))
            continue
        boards = dict(heapq.nsmallest(4 * most, grown.items(), key=lambda item: (item[1], item[0])))
    turn = board.turn if edit.turn is None else edit.turn
    positions = sorted(_legal(boards, turn), key=lambda p: (p.cost, p.fen))[:most]
    if not positions:
        flaws.append("no legal position is near these words")
    return Dictation(edit.first, edit.last, tuple(positions), tuple(flaws))


def _changed(placed: str, change: Change) -> Iterator[tuple[float, str]]:
    board = chess.BaseBoard(placed)
    for color in chess.COLORS if change.color is None else (change.color,):
        men = board.pieces(change.kind, color)
        if change.verb == "remove":
            near = {s: c for c, s in change.squares}
            yield from ((near.get(s, 0.0), _with(board, s, None, None)) for s in men if not near or s in near)
            continue
        man = chess.Piece(change.kind, color)
        for cost, square in change.squares:
            if board.piece_at(square):
                continue
            if change.verb == "put":
                for s in men:
                    yield cost + _FAR * _away(s, square), _with(board, s, square, man)
            if change.kind != chess.KING:
                yield cost + (_FURTHER if change.verb == "put" else 0.0), _with(board, None, square, man)


def _away(a: int, b: int) -> int:
    """Steps between squares; another file counts twice, for what changes is mostly how far a man has gone."""
    ranks = abs(chess.square_rank(a) - chess.square_rank(b))
    return ranks + 2 * abs(chess.square_file(a) - chess.square_file(b))


def _with(board: chess.BaseBoard, off: int | None, on: int | None, man: chess.Piece | None) -> str:
    changed = board.copy()
    if off is not None:
        changed.remove_piece_at(off)
    if on is not None:
        changed.set_piece_at(on, man)
    return changed.board_fen()


def _legal(boards: dict[str, float], named: bool) -> Iterator[ScoredFen]:
    for placed, cost in boards.items():
        for turn in chess.COLORS:
            board = chess.Board(None)
            board.set_board_fen(placed)
            board.turn = turn
            if board.is_valid():
                yield ScoredFen(board.fen(), round(cost + (TURN_NAMED if turn == named else TURN_OTHER), 4))


def _impossible(change: Change) -> str:
    side = {None: "", True: "white ", False: "black "}[change.color]
    where = f" on {chess.square_name(change.squares[0][1])}" if change.squares else ""
    return f"cannot {change.verb} the {side}{chess.piece_name(change.kind)}{where} in this position"
