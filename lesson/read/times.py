"""From the times a file states to one span per word, in order and without overlap. Linear but for a logarithm."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from itertools import pairwise

from lesson.settings import MAX_TALK_MS, SPEECH_WORDS_PER_MINUTE

Note = Callable[[str, int], None]
"""Told the kind of a flaw and the index of the word."""


def settle(starts: list[int | None], ends: list[int | None], weights: list[int], note: Note) -> list[tuple[int, int]]:
    """Spans `(start_ms, end_ms)` with `start <= end <= next start`, for words of which some state a start or an end.

    A stated time is kept where it agrees with most others; what is missing or not believed is shared out between
    its neighbours in proportion to `weights` (characters). At least one time must be stated; all lists have the
    same length. `note` is called once for every time that was not kept.
    """
    starts = [_possible(time, i, note) for i, time in enumerate(starts)]
    ends = [_possible(time, i, note) for i, time in enumerate(ends)]
    _drop_backwards(starts, ends, note)
    _cut_overlaps(starts, ends, note)
    return _share_out(starts, ends, weights, note)


def speech_ms(words: int) -> int:
    """How long that many words take at the usual rate, in milliseconds."""
    return words * 60_000 // SPEECH_WORDS_PER_MINUTE


def spread(weights: list[int], start_ms: int, end_ms: int) -> list[tuple[int, int]]:
    """Consecutive spans that fill `start_ms`..`end_ms` in proportion to `weights`."""
    total = sum(weights) or 1
    edges = [start_ms]
    passed = 0
    for weight in weights:
        passed += weight
        edges.append(start_ms + (end_ms - start_ms) * passed // total)
    return list(pairwise(edges))


def _possible(time: int | None, index: int, note: Note) -> int | None:
    if time is None or 0 <= time <= MAX_TALK_MS:
        return time
    if time < 0:
        note("a time lies before the start of the recording; taken as its start", index)
        return 0
    note("a time is impossibly late; estimated", index)
    return None


def _drop_backwards(starts: list[int | None], ends: list[int | None], note: Note) -> None:
    """Forget the fewest starts that leave the others in order: one wild time must not drag all later words along."""
    known = [(i, start) for i, start in enumerate(starts) if start is not None]
    kept = longest_ordered([start for _, start in known])
    if len(kept) == len(known):
        return
    believed = {known[k][0] for k in kept}
    following = [i for i, _ in known[1:]] + [len(starts)]
    for (i, _), next_known in zip(known, following, strict=True):
        if i not in believed:
            note("times run backwards; the odd ones were estimated from their neighbours", i)
            starts[i] = None
            # An end that closes what an unbelieved start opened is not believed either.
            ends[i:next_known] = [None] * (next_known - i)


def longest_ordered(values: list[int]) -> list[int]:
    """Indices of a longest non-decreasing subsequence (patience sorting, O(n log n))."""
    if all(a <= b for a, b in pairwise(values)):
        return list(range(len(values)))
    tails: list[int] = []
    tail_index: list[int] = []
    before: list[int] = []
    for i, value in enumerate(values):
        at = bisect_right(tails, value)
        before.append(tail_index[at - 1] if at else -1)
        tails[at : at + 1] = [value]
        tail_index[at : at + 1] = [i]
    chain = [tail_index[-1]]
    while before[chain[-1]] >= 0:
        chain.append(before[chain[-1]])
    return chain[::-1]


def _cut_overlaps(starts: list[int | None], ends: list[int | None], note: Note) -> None:
    overlapping: list[int] = []
    following: int | None = None
    for i in range(len(starts) - 1, -1, -1):
        end = ends[i]
        if end is not None and following is not None and end > following:
            overlapping.append(i)
            ends[i] = following
        start = starts[i]
        following = following if start is None else start
    for i in reversed(overlapping):
        note("spans overlap; the earlier one was cut where the later one starts", i)


def _share_out(
    starts: list[int | None], ends: list[int | None], weights: list[int], note: Note
) -> list[tuple[int, int]]:
    spans: list[tuple[int, int]] = []
    while len(spans) < len(starts):
        first = len(spans)
        passed = spans[-1][1] if spans else 0
        start = starts[first]
        last, end = _stretch(starts, ends, first, passed if start is None else start, note)
        if start is None:
            # Words before the first stated time were said just before it, not at the start of the recording.
            start = passed if spans else max(0, (end or 0) - speech_ms(last + 1 - first))
        if end is None:
            end = start + speech_ms(last + 1 - first)
        spans += spread(weights[first : last + 1], start, end)
    return spans


def _stretch(
    starts: list[int | None], ends: list[int | None], first: int, from_ms: int, note: Note
) -> tuple[int, int | None]:
    """Last word and end of the stretch that begins at `first`: up to a stated end or just before a stated start."""
    for last in range(first, len(starts)):
        end = ends[last]
        if end is not None and end >= from_ms:
            return last, end
        if end is not None:
            note("a span ends before it starts; its end was estimated", last)
        if last + 1 < len(starts) and starts[last + 1] is not None:
            return last, starts[last + 1]
    return len(starts) - 1, None
