"""Where words said once stand in a transcript that may have been made again.

A re-made transcript hears other words and cuts them at other times, so an anchor holds the words themselves, their
neighbours on both sides, when they were said and their place. A place is sought that is like the anchor in words and
neighbours and near it in time; where nothing is alike enough, or two places are equally so, the anchor is lost, because
a fact put on the wrong words does more harm than one that is missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Indel
from rapidfuzz.process import cdist

from lesson.align import Range, spelled
from lesson.model import Talk
from lesson.settings import (
    ANCHOR_ALIKE,
    ANCHOR_FAR,
    ANCHOR_FAR_ALIKE,
    ANCHOR_NEAR_MS,
    ANCHOR_NEAR_WORDS,
    ANCHOR_TIE,
    ANCHOR_UNKNOWN,
)

_STRETCH = 2  # words by which a re-made transcript may join or split an anchor's words


@dataclass(frozen=True, slots=True)
class Anchor:
    """Words of a talk: `text` ("" for a place between two words), up to three neighbours `before` and `after` ("" where
    not known), when they were said (`start_ms`, None in a talk without times), and their place at the time, `words`."""

    text: str
    before: str = ""
    after: str = ""
    start_ms: int | None = None
    words: Range | None = None


class Places:
    """The words of a talk, prepared for finding anchors among them."""

    def __init__(self, talk: Talk) -> None:
        self._keys = [spelled(word.text) for word in talk.words]
        self._times = [word.start_ms for word in talk.words]
        self._windows: dict[int, list[str]] = {}

    def find(self, anchor: Anchor) -> Range | None:
        """The words [first, last) that the anchor means, None where it is lost."""
        text = [key for key in map(spelled, anchor.text.split()) if key]
        before, after = _joined(anchor.before), _joined(anchor.after)
        if anchor.words is not None and self._unchanged(anchor, "".join(text), before, after):
            return anchor.words
        sides = (before, len(anchor.before.split())), (after, len(anchor.after.split()))
        scored = sorted(
            (
                (self._score(anchor, place, alike, sides), -abs(place[1] - place[0] - len(text)), -place[0], place)
                for place, alike in self._candidates(anchor, text)
            ),
            reverse=True,
        )
        if not scored or scored[0][0] < ANCHOR_ALIKE:
            return None
        best, *_, (first, last) = scored[0]
        for score, _, _, (a, b) in scored[1:]:
            if score < best - ANCHOR_TIE:
                break
            if (b <= first and a < first) or (a >= last and b > last):
                return None
        return first, last

    def _unchanged(self, anchor: Anchor, text: str, before: str, after: str) -> bool:
        """Whether the anchor's words still stand where they stood."""
        assert anchor.words is not None
        first, last = anchor.words
        if not 0 <= first <= last <= len(self._keys) or "".join(self._keys[first:last]) != text:
            return False
        there = self._times[first] if first < len(self._times) else None
        if anchor.start_ms is not None and there is not None and anchor.start_ms != there:
            return False
        left = "".join(self._keys[max(0, first - _SIDE) : first])
        right = "".join(self._keys[last : last + _SIDE])
        return left.endswith(before) and right.startswith(after)

    def _candidates(self, anchor: Anchor, text: Sequence[str]) -> list[tuple[Range, float]]:
        """Places worth a look, each with the likeness of its words (1 for a place between two words)."""
        if not text:
            return [((at, at), 1.0) for at in range(len(self._keys) + 1)]
        out: list[tuple[Range, float]] = []
        for size in range(max(1, len(text) - _STRETCH), len(text) + _STRETCH + 1):
            windows = self._windows_of(size)
            if windows:
                alike = cdist(["".join(text)], windows, scorer=Indel.normalized_similarity)[0].tolist()
                out += [
                    ((at, at + size), share)
                    for at, share in enumerate(alike)
                    if share >= ANCHOR_FAR_ALIKE or self._distance(anchor, at) < 1
                ]
        return out

    def _windows_of(self, size: int) -> list[str]:
        if size not in self._windows:
            keys = self._keys
            self._windows[size] = ["".join(keys[i : i + size]) for i in range(len(keys) - size + 1)]
        return self._windows[size]

    def _score(
        self, anchor: Anchor, place: Range, alike: float, sides: tuple[tuple[str, int], tuple[str, int]]
    ) -> float:
        (before, n), (after, m) = sides
        first, last = place
        shares = [_alike(before, "".join(self._keys[max(0, first - n) : first]))] if before else []
        shares += [_alike(after, "".join(self._keys[last : last + m]))] if after else []
        around = sum(shares) / len(shares) if shares else None
        if not anchor.text.strip():
            score = ANCHOR_UNKNOWN if around is None else around if len(shares) == 2 else around * ANCHOR_UNKNOWN
        elif around is None:
            score = alike * ANCHOR_UNKNOWN
        else:
            score = (alike + around) / 2
        return score - ANCHOR_FAR * self._distance(anchor, first)

    def _distance(self, anchor: Anchor, at: int) -> float:
        """How far word `at` is from where the anchor stood: 0 there, 1 for too far to count; 0 where nobody knows."""
        there = self._times[at] if at < len(self._times) else None
        if anchor.start_ms is not None and there is not None:
            return min(1.0, abs(there - anchor.start_ms) / ANCHOR_NEAR_MS)
        if anchor.words is not None:
            return min(1.0, abs(at - anchor.words[0]) / ANCHOR_NEAR_WORDS)
        return 0.0


_SIDE = 16  # words in which three neighbours must lie, silent ones ("-") between them included


def _joined(text: str) -> str:
    return "".join(map(spelled, text.split()))


def _alike(a: str, b: str) -> float:
    return Indel.normalized_similarity(a, b)
