"""The items of a dictation -> slots: which man, where, at what cost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import chess
from rapidfuzz import fuzz

from lesson.hear.dictated_squares import UNHEARD, Heard, load_square_sounds
from lesson.hear.placing import Slot, make_slot, trim
from lesson.hear.position_words import Item

KINDS = {"P": chess.PAWN, "N": chess.KNIGHT, "B": chess.BISHOP, "R": chess.ROOK, "Q": chess.QUEEN, "K": chess.KING}
# How often each man is the one whose noun was lost (-ln p), before its sound is compared; hand-set.
_LOST_NOUN = {"P": 1.2, "N": 1.2, "R": 1.6, "B": 1.8, "Q": 2.6, "K": 3.0}
# -ln p, hand-set: a second square after a singular noun means two of the kind, or another man whose noun was lost.
_PLURAL_LOST, _SAME_AFTER_WORDS, _SOUND_WEIGHT = 0.7, 1.0, 2.5
# What another man melted into a square costs more right after a noun that still waits for one; hand-set.
_NAMED = 3.0
# -ln p that a man counted or named without a square is simply not there; hand-set.
_NOT_THERE = 2.0
_NAMES = {"P": "pawn", "N": "knight", "B": "bishop", "R": "rook", "Q": "queen", "K": "king"}
_SIDES = {chess.WHITE: "white", chess.BLACK: "black"}


@dataclass(slots=True)
class Noun:
    """A man named; it governs the squares that follow."""

    color: bool
    kind: str
    plural: bool
    count: int | None = None
    squares: int = 0


class Draft:
    """Slots and what else the items say: `turn`, `flaws`, and for which side a king was named with its side."""

    def __init__(self, items: Sequence[Item]) -> None:
        self.slots: list[Slot] = []
        self.turn: bool | None = None
        self.flaws: list[str] = []
        self.sided_king = {chess.WHITE: False, chess.BLACK: False}
        self._items = items
        self._sounds = load_square_sounds()
        self._color = chess.WHITE
        self._sided = False
        self._waiting: list[Noun] = []
        self._noun: Noun | None = None
        self._nouns: list[Noun] = []
        self._listing: Noun | None = None  # the pawns whose list the last slot belongs to
        self._count: int | None = None
        self._words: list[str] = []  # words without meaning since the last man
        self._strange = 0  # words without meaning since the side was named
        self._kings = {chess.WHITE: False, chess.BLACK: False}
        self._unsure: list[tuple[bool, Heard, dict[str, float]]] = []
        for index, item in enumerate(items):
            self._take(index, item)
        self._place_unsure()
        self._check_nouns()
        if self.turn is None:
            self.flaws.append("no side to move heard; taken for White first")

    def look_beyond(self, items: Sequence[Item]) -> None:
        """Note a man named right after the last one whose square was lost with what followed."""
        if self.turn is None and items and items[0].kind in ("man", "men"):
            squared = len(items) > 1 and items[1].kind in ("square", "glue", "stop")
            if not squared and self._items[-1].stop < 2:
                self.flaws.append(f"no square heard for the {_SIDES[self._color]} {_NAMES[items[0].value]}")

    def has_king(self, color: bool) -> bool:
        """Whether some slot of the side may be its king."""
        return any(s.color == color and any(kind == chess.KING for _, kind, _ in s.options) for s in self.slots)

    def _take(self, index: int, item: Item) -> None:
        if item.kind == "turn":
            self.turn = item.value == "w"
        elif item.kind in ("side", "hint"):
            self._color, self._sided, self._noun = item.value == "w", True, None
            self._words, self._waiting, self._strange = [], [], 0
        elif item.kind in ("man", "men"):
            self._name(item)
        elif item.kind == "count":
            self._count = int(item.value)
        elif item.kind == "against" and self._noun:
            self._color = not self._color
            self._noun = Noun(self._color, self._noun.kind, self._noun.plural)
            self._sided = True
        elif item.square:
            self._place(index, item.square)
        elif item.kind == "other" or item.text == "i":
            self._words.append(item.text)
            self._strange += 1

    def _name(self, item: Item) -> None:
        noun = Noun(self._color, item.value, item.kind == "men", self._count)
        self._nouns.append(noun)
        self._waiting.append(noun)
        self._count, self._words = None, []

    # ------------------------------------------------------------------------------------------------------- squares

    def _place(self, index: int, square: Heard) -> None:
        run = self._run_from(index)
        if self._waiting:
            pairwise = run == len(self._waiting) > 1 and not any(n.plural for n in self._waiting)
            self._noun = self._waiting[0] if pairwise else self._waiting[-1]
            self._waiting = self._waiting[1:] if pairwise else []
        noun = self._noun
        if noun is None:
            self._unsure.append((self._color, square, self._by_sound(None)))
        elif noun.kind == "K":
            self._place_king(noun, square)
        elif noun.squares and not noun.plural and (noun.kind != "P" or len(self._words) > 1):
            self._unsure.append((self._color, square, self._by_sound(noun)))
        else:
            opens_list = noun.squares == 0 and (run > 1 or noun.plural or noun.kind == "P")
            self._add(noun.color, {noun.kind: 0.0}, square, opens_list, _NAMED if noun.squares == 0 else 0.0)
            if noun.kind == "P":
                self.slots[-1] = replace(self.slots[-1], listed=noun is self._listing)
                self._listing = noun
        if noun:
            noun.squares += 1
        self._words = []

    def _place_king(self, noun: Noun, square: Heard) -> None:
        if noun.squares and not noun.plural:
            self._unsure.append((self._color, square, self._by_sound(None)))
            return
        if self._kings[noun.color] and not self._kings[not noun.color]:
            noun.color = self._color = not noun.color
            self._sided = False
            if noun.plural:
                self._color = chess.WHITE
            else:
                self.flaws.append(f"a second king: taken as {_SIDES[noun.color]}'s, no side heard")
        self._kings[noun.color] = True
        self.sided_king[noun.color] = (self._sided and not self._strange) or noun.plural
        self._add(noun.color, {"K": 0.0}, square, opens_list=False)

    def _run_from(self, index: int) -> int:
        """How many squares follow each other from here with nothing but small words between."""
        run = 0
        for item in self._items[index:]:
            if item.kind == "square":
                run += 1
            elif item.text not in ("and", "on", "at", "respectively"):
                break
        return run

    def _by_sound(self, after: Noun | None) -> dict[str, float]:
        """Costs of each man for a square whose noun was not heard; the words before it may sound like one."""
        costs = dict(_LOST_NOUN)
        said = "".join(self._words[-2:])
        if said:
            for kind, name in _NAMES.items():
                costs[kind] += _SOUND_WEIGHT * (1 - fuzz.ratio(said, name) / 100) - _SOUND_WEIGHT / 2
        if after:
            costs[after.kind] = _SAME_AFTER_WORDS if self._words else _PLURAL_LOST
            extra = 0.0 if self._words else 1.0
            costs = {k: c + (0.0 if k == after.kind else extra) for k, c in costs.items()}
        return costs

    def _place_unsure(self) -> None:
        for color, square, costs in self._unsure:
            allowed = {k: c for k, c in costs.items() if k != "K" or not self._kings[color]}
            unheard = sum(c == color for c, _, _ in self._unsure)
            if not self._kings[color] and unheard == 1:
                allowed = {"K": 0.0}
            self._add(color, allowed, square, opens_list=False)
            _, _, where = self.slots[-1].options[0]
            self.flaws.append(f"the {_SIDES[color]} man on {chess.square_name(where)}: its name was not heard")

    def _add(self, color: bool, kinds: dict[str, float], square: Heard, opens_list: bool, named: float = 0.0) -> None:
        files = square.files
        if opens_list and square.letters in self._sounds.liaison:
            files = self._sounds.files(square.letters, opens_list=True)
        melted = square.melted if "K" not in kinds else ()
        if min(files) == math.inf and not melted:
            files = UNHEARD
        men = [(cost, KINDS[k]) for k, cost in kinds.items()]
        slot = make_slot(color, men, files, square.ranks, square.letters)
        if not melted:
            self.slots.append(slot)
            return
        options = {(kind, where): cost for cost, kind, where in slot.options}
        for man, file, cost in melted:
            for rank, rank_cost in enumerate(square.ranks):
                key = (KINDS[man], chess.square(file, rank))
                options[key] = min(options.get(key, math.inf), cost + rank_cost + named)
        self.slots.append(Slot(color, trim(options), None, square.letters))

    # --------------------------------------------------------------------------------------------------- loose ends

    def _check_nouns(self) -> None:
        """Men named or counted without a square: a flaw, and one slot that may stand anywhere."""
        missing: list[Noun] = []
        for noun in self._nouns:
            placed = sum(s.color == noun.color and s.options[0][1] == KINDS[noun.kind] for s in self.slots)
            if not noun.squares and not placed and noun.kind != "K":
                self.flaws.append(f"no square heard for the {_SIDES[noun.color]} {_NAMES[noun.kind]}")
                missing.append(noun)
            elif noun.count and noun.squares and noun.count != noun.squares and noun.kind != "K":
                said = f"{noun.count} {_SIDES[noun.color]} {_NAMES[noun.kind]}{'s' if noun.count > 1 else ''}"
                self.flaws.append(f"{said} announced, {noun.squares} squares heard")
                missing += [noun] * (noun.count == noun.squares + 1)
        for noun in missing[:1]:
            flat = (math.log(8),) * 8
            self.slots.append(make_slot(noun.color, [(0.0, KINDS[noun.kind])], flat, flat, absent=_NOT_THERE))
