"""Where words said once stand in a transcript that may have been made again.

A re-made transcript hears other words and cuts them at other times, so an anchor holds the words themselves, their
neighbours on both sides, when they were said and their place. A place is sought that is like the anchor in words and
neighbours and near it in time; the anchors found beyond doubt tell how the times of the two transcripts differ. Where
nothing is alike enough, or two places are equally so, the anchor is lost, because a fact put on the wrong words does
more harm than one that is missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from rapidfuzz.distance import Indel
from rapidfuzz.process import cdist

from lesson.align import Range, spelled
from lesson.model import Talk
from lesson.settings import (
    ANCHOR_ALIKE,
    ANCHOR_CHANCE,
    ANCHOR_FAR,
    ANCHOR_FAR_ALIKE,
    ANCHOR_NEAR_MS,
    ANCHOR_NEAR_WORDS,
    ANCHOR_SURE,
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

    def find_all(self, anchors: Sequence[Anchor]) -> list[Range | None]:
        """For each anchor the words [first, last) it means, None where it is lost."""
        found = [self._as_it_was(anchor) for anchor in anchors]
        if None not in found:
            return found
        pins = [(anchor, place or self._best(anchor, None)) for anchor, place in zip(anchors, found, strict=True)]
        shift = _Shift([(anchor, place) for anchor, place in pins if place is not None], self._times)
        return [place or self._best(anchor, shift) for anchor, place in zip(anchors, found, strict=True)]

    def _as_it_was(self, anchor: Anchor) -> Range | None:
        """The anchor's own place, if its words still stand there."""
        if anchor.words is None:
            return None
        text = _joined(anchor.text)
        return anchor.words if self._unchanged(anchor, text, _joined(anchor.before), _joined(anchor.after)) else None

    def _best(self, anchor: Anchor, shift: _Shift | None) -> Range | None:
        """The place most like the anchor; without `shift` only one that is like it beyond doubt, wherever it stands."""
        text = [key for key in map(spelled, anchor.text.split()) if key]
        sides = [(_joined(side), len(side.split())) for side in (anchor.before, anchor.after)]
        expected = None if shift is None else shift.expected(anchor)
        scored = sorted(
            (
                (self._score(anchor, place, alike, sides, expected), -abs(place[1] - place[0] - len(text)), place)
                for place, alike in self._candidates(text, expected)
            ),
            key=lambda found: (-found[0], -found[1], found[2]),
        )
        if not scored or scored[0][0] < (ANCHOR_SURE if shift is None else ANCHOR_ALIKE):
            return None
        best, _, (first, last) = scored[0]
        for score, _, (a, b) in scored[1:]:
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

    def _candidates(self, text: Sequence[str], expected: _Expected | None) -> list[tuple[Range, float]]:
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
                    if share >= ANCHOR_FAR_ALIKE or (expected is not None and self._distance(expected, at) < 1)
                ]
        return out

    def _windows_of(self, size: int) -> list[str]:
        if size not in self._windows:
            keys = self._keys
            self._windows[size] = ["".join(keys[i : i + size]) for i in range(len(keys) - size + 1)]
        return self._windows[size]

    def _score(
        self,
        anchor: Anchor,
        place: Range,
        alike: float,
        sides: Sequence[tuple[str, int]],
        expected: _Expected | None,
    ) -> float:
        (before, n), (after, m) = sides
        first, last = place
        shares = [_alike(before, "".join(self._keys[max(0, first - n) : first]))] if before else []
        shares += [_alike(after, "".join(self._keys[last : last + m]))] if after else []
        around = max(0.0, sum(shares) / len(shares) - ANCHOR_CHANCE) / (1 - ANCHOR_CHANCE) if shares else None
        if not anchor.text.strip():
            score = ANCHOR_UNKNOWN if around is None else around if len(shares) == 2 else around * ANCHOR_UNKNOWN
        elif around is None:
            score = alike * ANCHOR_UNKNOWN
        else:
            score = (alike + around) / 2
        return score - (ANCHOR_FAR * self._distance(expected, first) if expected is not None else 0.0)

    def _distance(self, expected: _Expected, at: int) -> float:
        """How far word `at` is from where it is expected: 0 there, 1 for too far to count; 0 where nobody knows."""
        there = self._times[at] if at < len(self._times) else None
        if expected.ms is not None and there is not None:
            return min(1.0, abs(there - expected.ms) / ANCHOR_NEAR_MS)
        if expected.word is not None:
            return min(1.0, abs(at - expected.word) / ANCHOR_NEAR_WORDS)
        return 0.0


@dataclass(frozen=True, slots=True)
class _Expected:
    """Where an anchor's words should be: their time, or their number; None where nobody knows."""

    ms: float | None
    word: float | None


class _Shift:
    """How times and numbers of words differ between the transcript of the anchors and this one, told by the anchors
    found beyond doubt: between two of them in proportion, outside as at the last one."""

    def __init__(self, pins: Sequence[tuple[Anchor, Range]], times: Sequence[int | None]) -> None:
        timed = [
            (a.start_ms, there)
            for a, (first, _) in pins
            if first < len(times) and a.start_ms is not None and (there := times[first]) is not None
        ]
        self._ms = _rising(timed)
        self._words = _rising([(a.words[0], first) for a, (first, _) in pins if a.words is not None])

    def expected(self, anchor: Anchor) -> _Expected:
        ms = None if anchor.start_ms is None else _moved(anchor.start_ms, self._ms)
        return _Expected(ms, None if anchor.words is None else _moved(anchor.words[0], self._words))


def _rising(pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """The most of `pairs` that rise in both numbers: a talk is told once, so what runs back was found wrongly."""
    ordered = sorted(set(pairs))
    length = [1] * len(ordered)
    back = [-1] * len(ordered)
    for i, (old, new) in enumerate(ordered):
        for j in range(i):
            if ordered[j][0] < old and ordered[j][1] <= new and length[j] + 1 > length[i]:
                length[i], back[i] = length[j] + 1, j
    at = max(range(len(ordered)), key=lambda i: length[i], default=-1)
    out: list[tuple[int, int]] = []
    while at >= 0:
        out.append(ordered[at])
        at = back[at]
    return out[::-1]


def _moved(old: int, pins: Sequence[tuple[int, int]]) -> float:
    if not pins:
        return old
    olds, shifts = [pin[0] for pin in pins], [pin[1] - pin[0] for pin in pins]
    return old + float(np.interp(old, olds, shifts))


_SIDE = 16  # words in which three neighbours must lie, silent ones ("-") between them included


def _joined(text: str) -> str:
    return "".join(map(spelled, text.split()))


def _alike(a: str, b: str) -> float:
    return Indel.normalized_similarity(a, b)
