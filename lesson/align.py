"""Which words of one transcript are which words of another transcript of the same talk.

Used to carry a word range (a correction, a mark) from one transcript to a re-made one. Recognisers mishear, join and
split words, so equal words only anchor the alignment; between the anchors a dynamic programme over word similarity
(Needleman and Wunsch 1970, with joins and splits of up to three words added) finds the cheapest reading.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from rapidfuzz.distance import Indel, Levenshtein
from rapidfuzz.process import cdist

Range = tuple[int, int]

# Costs are in units of "one word replaced by an entirely different one" and were set by hand on made-up sentences.
GAP = 0.6  # a word with no counterpart: two gaps must cost more than one bad replacement, so that stretches line up
JOINED = 0.15  # every word beyond the first in a join or a split: an exact replacement must stay cheaper
ANCHOR = 3  # words: shorter equal runs are too often chance ("the", "and then")
SPLIT_SQUARE = 0.3  # a square whose file became a word of its own: dearer than a join heard right
CELLS = 60_000  # size of the largest table filled in Python, about a third of a second

_STEPS = ((1, 1), (1, 2), (2, 1), (1, 3), (3, 1))
_ONES = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen"
_ONES = f"{_ONES} seventeen eighteen nineteen"
_FILES, _RANKS = frozenset("abcdefgh"), frozenset(_ONES.split()[1:9])
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety"


def align_words(a: Sequence[str], b: Sequence[str]) -> list[Range]:
    """For each word of `a`, the half-open range of words of `b` it corresponds to.

    Starts and ends never decrease. A word without counterpart has an empty range at the place where it would stand;
    words of `a` that `b` joins into one share that word; words of `b` that nobody in `a` says lie in no range. Case
    and punctuation do not count, and digits compare as English words ("4" is "four", "f6" is near "have six").
    """
    keys_a, keys_b = [spelled(word) for word in a], [spelled(word) for word in b]
    return _align(keys_a, keys_b, 0, ANCHOR)


def map_range(ranges: Sequence[Range], first: int, last: int) -> Range:
    """The range of `b` for the half-open range `[first, last)` of `a`, given `align_words(a, b)`.

    Empty where the range is empty or none of its words has a counterpart.
    """
    if first >= last:
        at = ranges[first][0] if first < len(ranges) else (ranges[-1][1] if ranges else 0)
        return at, at
    return ranges[first][0], ranges[last - 1][1]


@lru_cache(maxsize=65536)
def spelled(word: str) -> str:
    """A word as compared: lower case letters only, numbers spelled out, accents and punctuation dropped."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", word.casefold()) if c.isalnum())
    return re.sub(r"[0-9]+", lambda m: _number(m[0]), plain)


def _number(digits: str) -> str:
    if len(digits) == 4 and digits[0] != "0":  # years are said in two halves
        return _number(digits[:2]) + ("hundred" if digits[2:] == "00" else _number(digits[2:]))
    if len(digits) > 2:
        return "".join(_number(d) for d in digits)
    value, ones = int(digits), _ONES.split()
    if value < len(ones):
        return ones[value]
    return _TENS.split()[value // 10 - 2] + (ones[value % 10] if value % 10 else "")


def _align(a: Sequence[str], b: Sequence[str], offset: int, anchor: int) -> list[Range]:
    """Ranges for `a` against `b`, whose first word is word number `offset` of the whole."""
    out: list[Range] = []
    for i, k, j, m, same in _stretches(a, b, anchor):
        start = offset + j
        if same:
            out += [(start + d, start + d + 1) for d in range(k - i)]
        elif (k - i) * (m - j) <= CELLS:
            out += _cheapest(a[i:k], b[j:m], start)
        elif anchor > 1:
            out += _align(a[i:k], b[j:m], start, 1)
        else:
            out += _spread(k - i, m - j, start)
    return out


def _stretches(a: Sequence[str], b: Sequence[str], anchor: int) -> Iterator[tuple[int, int, int, int, bool]]:
    """Cut both into alternating stretches (a from, a to, b from, b to, equal) at equal runs of `anchor` words."""
    i = j = 0
    for op in Levenshtein.opcodes(a, b):
        if op.tag != "equal" or op.src_end - op.src_start < anchor:
            continue
        if op.src_start > i or op.dest_start > j:
            yield i, op.src_start, j, op.dest_start, False
        yield op.src_start, op.src_end, op.dest_start, op.dest_end, True
        i, j = op.src_end, op.dest_end
    if i < len(a) or j < len(b):
        yield i, len(a), j, len(b), False


def _cheapest(a: Sequence[str], b: Sequence[str], offset: int) -> list[Range]:
    """The dynamic programme: every way to pair, join, split and skip words, the cheapest one kept."""
    n, m = len(a), len(b)
    pair = {step: _step_costs(a, b, *step) for step in _STEPS}
    skip_a, skip_b = [GAP if w else 0.0 for w in a], [GAP if w else 0.0 for w in b]
    cost = [[0.0] * (m + 1) for _ in range(n + 1)]
    came: list[list[Range]] = [[(0, 0)] * (m + 1) for _ in range(n + 1)]
    for i in range(n + 1):
        for j in range(m + 1):
            if i == j == 0:
                continue
            best, step = float("inf"), (0, 0)
            for (di, dj), costs in pair.items():
                if di <= i and dj <= j and (c := cost[i - di][j - dj] + costs[i - di][j - dj]) < best:
                    best, step = c, (di, dj)
            if i and (c := cost[i - 1][j] + skip_a[i - 1]) < best:
                best, step = c, (1, 0)
            if j and (c := cost[i][j - 1] + skip_b[j - 1]) < best:
                best, step = c, (0, 1)
            cost[i][j], came[i][j] = best, step
    ranges: list[Range] = []
    i, j = n, m
    while i or j:
        di, dj = came[i][j]
        ranges += [(offset + j - dj, offset + j)] * di
        i, j = i - di, j - dj
    return ranges[::-1]


def _step_costs(a: Sequence[str], b: Sequence[str], di: int, dj: int) -> list[list[float]]:
    """Cost of reading `a[i:i+di]` as `b[j:j+dj]`, for all i and j; infinite past the ends and where a join or split
    is no more alike than one of its words alone ("the queen" is no better a "queen" than "queen")."""
    n, m = len(a) - di + 1, len(b) - dj + 1
    out = np.full((len(a) + 1, len(b) + 1), np.inf)
    if n > 0 and m > 0:
        whole = _alike(["".join(a[i : i + di]) for i in range(n)], ["".join(b[j : j + dj]) for j in range(m)])
        out[:n, :m] = (1 - whole) * max(di, dj) + JOINED * (di + dj - 2)
        if di + dj > 2:
            single = _alike(a, b)
            parts = [single[x : x + n, y : y + m] for x in range(di) for y in range(dj)]
            out[:n, :m][whole <= np.maximum.reduce(parts)] = np.inf
        if (di, dj) == (1, 2):
            _split_squares(out, a, b)
        if (di, dj) == (2, 1):
            _split_squares(out.T, b, a)
    rows: list[list[float]] = out.tolist()
    return rows


def _split_squares(costs: npt.NDArray[np.float64], squares: Sequence[str], words: Sequence[str]) -> None:
    """Let a square ("a6") be a short word and its rank ("i 6"), however little the letter sounds like that word."""
    ranks = {j for j in range(len(words) - 1) if words[j + 1] in _RANKS and len(words[j]) <= 3}
    for i, square in enumerate(squares):
        if square[:1] in _FILES and square[1:] in _RANKS:
            for j in ranks:
                if words[j + 1] == square[1:]:
                    costs[i, j] = min(costs[i, j], SPLIT_SQUARE)


def _alike(a: Sequence[str], b: Sequence[str]) -> npt.NDArray[np.float64]:
    return cdist(a, b, scorer=Indel.normalized_similarity, dtype=np.float64)


def _spread(n: int, m: int, offset: int) -> list[Range]:
    """Stretches too long and too different to align: word by word in proportion."""
    cuts = [offset + i * m // n for i in range(n + 1)]
    return [(cuts[i], cuts[i + 1]) for i in range(n)]
