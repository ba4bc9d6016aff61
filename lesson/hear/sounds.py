"""The ear: what a heard letter, digit or word may have been. Costs are -ln p.

The tables are counted from talks whose true words are known (`python -m lesson.learn sounds`) and kept in
shared/sounds.json; where nothing was counted, rhyme decides: letters whose names share the vowel are mistaken for one
another (Cole & Fanty 1990, "Spoken Letter Recognition": B/D, B/P, D/T, T/G ... are the hard pairs).
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from lesson.data import data_path
from lesson.errors import DataError

FILES = "abcdefgh"
RANKS = "12345678"
PIECES = "PNBRQK"

_RHYMES = ("bcdegptvz3", "ahjk8i", "fsxlmn", "quw2", "iy59", "or4")
_PRIOR_SAME, _PRIOR_RHYME, _PRIOR_OTHER = 30.0, 0.6, 0.02
_DIGIT_SAME, _DIGIT_OTHER = 60.0, 0.02

Costs = tuple[float, ...]

# Words that are letter names when a digit follows (CMU Pronouncing Dictionary: the same or nearly the same phones).
LETTER_WORDS = {
    **dict.fromkeys(("see", "sea", "si", "cee", "she", "sees"), "c"),
    **dict.fromkeys(("be", "bee", "bea", "beat", "me"), "b"),
    **dict.fromkeys(("dee", "de", "the", "deep"), "d"),
    **dict.fromkeys(("gee", "ji", "jee", "key", "geez"), "g"),
    **dict.fromkeys(("he", "ee", "eat", "e's", "es", "ease", "each"), "e"),
    **dict.fromkeys(("hey", "hay", "ay", "eh", "eight", "ate", "ace", "hate", "an"), "a"),
    **dict.fromkeys(("age", "aitch", "ach", "aged", "etch", "h's"), "h"),
    **dict.fromkeys(("ef", "eff", "if", "half", "of", "after"), "f"),
    **dict.fromkeys(("anna",), "a"),
    **dict.fromkeys(("bella",), "b"),
    **dict.fromkeys(("cesar", "caesar"), "c"),
    **dict.fromkeys(("david",), "d"),
    **dict.fromkeys(("eva",), "e"),
    **dict.fromkeys(("felix",), "f"),
    **dict.fromkeys(("gustav",), "g"),
    **dict.fromkeys(("hector",), "h"),
}
# Common words: letters only before a written digit.
COMMON = {"the", "he", "she", "me", "be", "each", "of", "if", "after", "an", "see", "eat", "hate", "age", "half", "key"}
# Words that are numbers when a letter stands before them.
DIGIT_WORDS = {
    **dict.fromkeys(("one", "won", "juan"), "1"),
    **dict.fromkeys(("two", "to", "too", "tu"), "2"),
    **dict.fromkeys(("three", "free", "tree"), "3"),
    **dict.fromkeys(("four", "for", "fore", "or"), "4"),
    **dict.fromkeys(("five", "fife"), "5"),
    **dict.fromkeys(("six", "sex", "sics", "cigs", "sixth"), "6"),
    **dict.fromkeys(("seven", "7th", "seventh"), "7"),
    **dict.fromkeys(("eight", "ate", "hate"), "8"),
}
# Whole words that sound like a square (CMU Pronouncing Dictionary: b4 = before, f8 = fate, ...).
SQUARE_WORDS = {
    "before": "b4",
    "fate": "f8",
    "effort": "f4",
    "devour": "d4",
    "decree": "d3",
    "beaver": "b4",
    "ethree": "e3",
}
SURE_DIGITS = {"one", "two", "three", "four", "five", "six", "seven", "eight"}


def _rhyme(a: str, b: str) -> bool:
    return any(a in group and b in group for group in _RHYMES)


@dataclass(frozen=True)
class Sounds:
    """Counted confusions: heard text -> what was truly said -> count."""

    letters: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    digits: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    squares: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    before: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    _cache: dict[tuple[str, str], Costs] = field(default_factory=dict, repr=False, compare=False)

    def file_costs(self, heard: str) -> Costs:
        """-ln P(true file | heard letter) for files a..h, relative to the likeliest."""
        return self._costs("file", heard, FILES, self.letters)

    def rank_costs(self, heard: str) -> Costs:
        """-ln P(true rank | heard digit) for ranks 1..8, relative to the likeliest."""
        return self._costs("rank", heard, RANKS, self.digits)

    def piece_costs(self, heard: str) -> Costs:
        """-ln P(piece | the word right before a square) for "", P N B R Q K, relative to the likeliest."""
        key = ("piece", heard)
        if key not in self._cache:
            counts = self.before.get(heard, {})
            weights = [counts.get("", 0.0) + 3.0, *(counts.get(p, 0.0) + 0.05 for p in PIECES)]
            self._cache[key] = _relative(weights)
        return self._cache[key]

    def square_costs(self, heard: str) -> dict[str, float]:
        """Whole words known to be a square ("before" -> b4): square -> cost; empty for ordinary words."""
        counts = self.squares.get(heard, {})
        if not counts and heard in SQUARE_WORDS:
            return {SQUARE_WORDS[heard]: 0.5}
        total = sum(counts.values())
        return {sq: -math.log(n / total) for sq, n in counts.items() if sq} if total else {}

    def _costs(self, kind: str, heard: str, over: str, table: Mapping[str, Mapping[str, float]]) -> Costs:
        key = (kind, heard)
        if key not in self._cache:
            counts = table.get(heard, {})
            same, rhyme, other = (
                (_PRIOR_SAME, _PRIOR_RHYME, _PRIOR_OTHER) if kind == "file" else (_DIGIT_SAME, 0.1, _DIGIT_OTHER)
            )
            known = heard in over
            weights = []
            for x in over:
                prior = same if x == heard else rhyme if _rhyme(x, heard) else other
                weights.append(counts.get(x, 0.0) + (prior if known else min(prior, 1.0)))
            self._cache[key] = _relative(weights)
        return self._cache[key]


def _relative(weights: list[float]) -> Costs:
    top = max(weights)
    return tuple(-math.log(w / top) for w in weights)


@lru_cache(maxsize=1)
def load_sounds() -> Sounds:
    """The shipped tables.

    Raises: DataError if shared/sounds.json is missing or broken.
    """
    return read_sounds(Path(str(data_path("shared/sounds.json"))))


def read_sounds(path: Path) -> Sounds:
    """The tables of one file.

    Raises: DataError if it cannot be read.
    """
    try:
        table = json.loads(path.read_text(encoding="utf-8"))
        return Sounds(table["letters"], table["digits"], table["squares"], table["before"])
    except (OSError, ValueError, KeyError) as error:
        raise DataError(f"{path}: not a table of sounds ({error}); run `python -m lesson.learn` to make it") from error
