"""Moves told without a square: "into the corner", "blocks with the bishop", "does the same", "with the pawn"."""

from __future__ import annotations

from lesson.hear.around import Around
from lesson.hear.grammar import Symbol
from lesson.hear.phrase import Phrase, merged
from lesson.hear.sounds import Costs

Found = tuple[int, int, Phrase]

_EDGE: Costs = (0.0, *(9.0,) * 6, 0.0)  # the first and the last of the files, or of the ranks
_CORNER_BEFORE = 3  # tokens between the man and "the corner"


class Loose(Around):
    """Builds the phrases of heads that name no square."""

    def loose_head(self, i: int) -> str:
        """The kind of the loose head that begins at token i, "" if none does."""
        for s in self.at[i]:
            head = s.kind in ("corner", "block", "mirror", "enpassant") and s.first == i and self._in_one_breath(s)
            if head and (s.value != "alone" or self._between_stops(i, s.last)):
                return s.kind
        if any(s.kind == "with" and s.first == i for s in self.at[i]) and (named := self._with_piece(i)):
            return "with" if self._between_stops(i, named[2]) else ""
        return ""

    def _in_one_breath(self, symbol: Symbol) -> bool:
        """Whether no stop parts the words of a symbol."""
        return not any(map(self._barrier, range(symbol.first, symbol.last - 1)))

    def _between_stops(self, first: int, last: int) -> bool:
        """Whether tokens [first, last) stand alone."""
        return (not first or self._barrier(first - 1) > 0) and self._barrier(last - 1) > 0

    def corner_phrase(self, i: int, free: int) -> Found:
        """A man, mostly the king, goes into a corner."""
        last = self._end(i, "corner")
        first, slots = self._left(i, max(free, i - _CORNER_BEFORE))
        slots["piece"] = slots["piece"] or "K"
        after, right = self._right(last, king=slots["piece"] == "K")
        slots = merged(slots, right)
        return min(first, i), max(last, after), Phrase(0, 0, "square", _EDGE, _EDGE, "corner", **slots)

    def block_phrase(self, i: int, free: int) -> Found | None:
        """A man put in the way of a check; one with a square is met at the square."""
        last = self._end(i, "block")
        for j in range(last, min(len(self.tokens), last + 5)):
            if self._barrier(j - 1):
                break
            if j in self.square_at:
                return None
        first, slots = self._left(i, free)
        after, right = self._right(last)
        slots = merged(slots, right)
        return min(first, i), max(last, after), Phrase(0, 0, "block", **slots)

    def mirror_phrase(self, i: int, free: int) -> Found:
        """One side does what the other has just done."""
        first, slots = self._left(i, free)
        phrase = Phrase(0, 0, "mirror", side=slots["side"], person=slots["person"])
        return min(first, i), self._end(i, "mirror"), phrase

    def passing_phrase(self, i: int, free: int) -> Found | None:
        """ "En passant", with nothing else said; one with a square is met at the square."""
        if i < free or any(j in self.square_at or self.has(j, "take") for j in range(max(free, i - 5), i)):
            return None
        first, slots = self._left(i, free)
        slots["piece"], slots["take"] = "P", True
        return min(first, i), self._end(i, "enpassant"), Phrase(0, 0, "take", form="passing", **slots)

    def with_phrase(self, i: int, free: int) -> Found | None:
        """The man that captures, after the capture."""
        named = self._with_piece(i)
        if named is None:
            return None
        piece, ofiles, last = named
        return i, last, Phrase(0, 0, "take", piece=piece, ofiles=ofiles, take=True, form="with")

    def _end(self, i: int, kind: str) -> int:
        return max(s.last for s in self.at[i] if s.kind == kind and s.first == i)
