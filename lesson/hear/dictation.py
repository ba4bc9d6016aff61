"""Positions dictated in words: where in a talk they are, and which positions the words may mean, ranked.

Three steps: `stretch_at` finds where a dictation runs, `Draft` turns its items into slots (one man each, with costs
for what it may be and where it may stand), and `legal_positions` searches the cheapest legal boards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import chess

from lesson.hear.draft import Draft
from lesson.hear.placing import ScoredFen, legal_positions, said_position
from lesson.hear.position_words import Item, hear_items

# Positions offered for one dictation; the decoder picks the one in which the moves that follow can be played.
MOST = 300
# Other words allowed between two men, and while a named turn is still awaited after both kings stand. Hand-set on the
# longest interlude of the talks ("straight across from its rival with one square in between": 5 other, 10 in all).
_OTHERS, _OTHERS_AFTER, _GAP_AFTER = 5, 10, 18
# Small words between two men, and men in all: bounds that keep odd input cheap.
_GAP, _MEN = 30, 40
# Fewer men than this, then another king: moves of an ending, not a dictation. Hand-set.
_SURE = 5
# Evidence needed (see _evidence): two kings named with their side, or one and a turn, ...
_ENOUGH = 2.0


@dataclass(frozen=True, slots=True)
class Dictation:
    """A dictated position. `first`/`last` index the talk's words, half open. `positions` are cheapest first, empty
    when a king's square was not heard. `flaws` are one-line notes on what is wrong or missing as spoken."""

    first: int
    last: int
    positions: tuple[ScoredFen, ...]
    flaws: tuple[str, ...] = ()


def find_dictations(words: Sequence[str], language: str = "en", most: int = MOST) -> list[Dictation]:
    """Every stretch of the talk in which a whole position is dictated, in order, not overlapping."""
    heard = hear_items(words, language)
    found: list[Dictation] = []
    at = 0
    while at < len(heard.items):
        stretch = stretch_at(heard.items, at)
        draft = Draft(stretch)
        if not stretch or not _is_dictation(heard.items, at, draft):
            at += 1
            continue
        draft.look_beyond(heard.items[at + len(stretch) :][:2])
        first = heard.tokens[_opening(stretch).first].word
        last = heard.tokens[stretch[-1].last - 1].word + 1
        found.append(_dictation(draft, first, last, most))
        at += len(stretch)
    return found


def _opening(items: Sequence[Item]) -> Item:
    """The first item of the sentence that starts dictating; a heading before it ("Position two.") stays outside, an
    order ("Put them on the same squares again.") inside."""
    if items[0].value == "order":
        return items[0]
    body = next((i for i, item in enumerate(items) if item.kind in ("side", "hint", "man", "men", "turn")), 0)
    return items[max((i + 1 for i in range(body) if items[i].stop == 2), default=0)]


def _dictation(draft: Draft, first: int, last: int, most: int) -> Dictation:
    _, wrong = said_position(draft.slots, draft.turn)
    lost = [c for c in chess.COLORS if not draft.has_king(c)]
    flaws = draft.flaws + [w for w in wrong if not (w.startswith("no ") and w.endswith(" king"))]
    flaws += [f"no square heard for the {'white' if c else 'black'} king" for c in lost]
    positions = () if lost else legal_positions(draft.slots, draft.turn, most)
    if not positions and not lost:
        flaws.append("no legal position is near these words")
    return Dictation(first, last, positions, tuple(dict.fromkeys(flaws)))


# -------------------------------------------------------------------------------------------------------- the stretch


class _Count:
    """What a walk along the items has seen so far."""

    def __init__(self) -> None:
        self.color: bool | None = None
        self.kings = {chess.WHITE: 0, chess.BLACK: 0}
        self.men = {chess.WHITE: 0, chess.BLACK: 0}
        self.noun: Item | None = None  # the governing noun
        self.squares = 0  # squares the noun governs so far

    def complete(self) -> bool:
        return all(self.kings.values()) and all(self.men.values())

    def side(self, item: Item) -> None:
        self.color = item.value == "w"
        self.noun = None

    def man(self, item: Item) -> None:
        self.noun, self.squares = item, 0
        if self._kings_together():
            self.color = chess.WHITE

    def _kings_together(self) -> bool:
        return self.noun is not None and _both_kings(self.noun)

    def square(self, announced: bool) -> bool:
        """Count a man; False when it would be a king too many, or nobody's. `announced`: White's men may come first
        without a word for White."""
        together = self._kings_together()
        king = self.noun is not None and self.noun.value == "K" and self.squares < 1 + together
        if self.color is None:
            if not announced:
                return False
            self.color = chess.WHITE
        if king and (self.squares == 1 or self.kings[self.color]):
            if self.kings[not self.color]:
                return False
            self.color = not self.color
        self.kings[self.color] += king
        self.men[self.color] += 1
        self.squares += 1
        if together and self.squares == 2:
            self.color = chess.WHITE
        return True


def stretch_at(items: Sequence[Item], start: int) -> Sequence[Item]:
    """The longest stretch from item `start` that could be one dictation, up to its last man or the turn; or none."""
    placed = any(item.kind == "square" for item in items[start + 1 : start + 3])
    if items[start].kind not in ("side", "hint", "lead", "turn") and not (_both_kings(items[start]) and placed):
        return ()
    seen, others, gap = _Count(), 0, 0
    last, before, stop_at = start, start, None
    for index in range(start, len(items)):
        item = items[index]
        if item.kind == "turn":
            if all(seen.men.values()):
                return items[start : index + 1]
            if any(seen.men.values()):
                break
        elif item.kind in ("side", "hint"):
            if _starts_anew(seen, item):
                return ()
            seen.side(item)
        elif item.kind in ("man", "men"):
            seen.man(item)
        elif item.kind == "against" and seen.color is not None:
            seen.color, seen.squares = not seen.color, 0
        elif item.kind == "square":
            if not seen.square(items[start].kind == "lead"):
                if sum(seen.men.values()) < _SURE and stop_at is None:
                    return ()
                break
            before, last, others, gap = last, index + 1, 0, -1
        elif item.kind == "stop":
            if gap == 0 and items[index - 1].kind == "square":
                last = before
            break
        else:
            others += item.kind == "other"
        gap += 1
        if stop_at is None and item.kind == "square" and item.stop == 2 and seen.complete():
            stop_at = index + 1 if not _goes_on(items, index + 1) else None
        if _too_far(seen, others, gap):
            break
    end = min(last, stop_at) if stop_at else last
    return items[start:end]


def _both_kings(item: Item) -> bool:
    return item.kind == "men" and item.value == "K"


def _starts_anew(seen: _Count, item: Item) -> bool:
    color = item.value == "w"
    return seen.men[color] > 0 and not any(seen.kings.values()) and item.opens


def _goes_on(items: Sequence[Item], index: int) -> bool:
    return index < len(items) and items[index].kind in ("side", "hint", "turn", "against", "glue")


def _too_far(seen: _Count, others: int, gap: int) -> bool:
    if seen.complete():
        return others > _OTHERS_AFTER or gap > _GAP_AFTER or sum(seen.men.values()) > _MEN
    return others > _OTHERS or gap > _GAP or sum(seen.men.values()) > _MEN


# --------------------------------------------------------------------------------------------------------- is it one


def _is_dictation(items: Sequence[Item], start: int, draft: Draft) -> bool:
    men = {c: sum(s.color == c for s in draft.slots) for c in chess.COLORS}
    kings = sum(draft.has_king(c) for c in chess.COLORS)
    if not all(men.values()) or sum(men.values()) < 3 or not kings:
        return False
    if kings == 1 and (min(men.values()) < 2 or sum(men.values()) < 5 or draft.turn is None):
        return False
    doubtful = _both_kings(items[start]) or (start > 0 and items[start - 1].kind == "given")
    if doubtful and draft.turn is None:
        return False
    return _evidence(draft, items[start]) >= _ENOUGH


def _evidence(draft: Draft, opening: Item) -> float:
    score = float(sum(draft.sided_king.values()))
    score += 1.0 if draft.turn is not None else 0.0
    score += 0.5 if opening.kind == "lead" else 0.0
    score += 0.5 * math.floor(min(len(draft.slots), 8) / 4)
    return score
