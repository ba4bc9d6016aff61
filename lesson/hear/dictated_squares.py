"""Squares of a dictated position: heard letters and digits -> a cost (-ln p) for each file and rank.

Wider than the squares of moves (`squares.py`), because a dictation says where a square is due: there "we do" can only
be b2, and a man may have melted into its square. The counts and word lists are data, `shared/squares.toml`.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from lesson.data import data_path
from lesson.errors import DataError

FILES = "abcdefgh"
RANKS = "12345678"
Costs = tuple[float, ...]

# Unlike files, ranks survive recognition: in letter + digit squares the digit was right in 99.8 % of 2900 counted
# pairs; a generous .3 % is spread over the other seven ranks.
RANK_SLIP = -math.log(0.003 / 7)
# A square built from everyday words ("we do") is a guess of the ear; hand-set.
WORD_SQUARE = 1.0
UNHEARD: Costs = (math.log(8),) * 8
_NEVER: Costs = (math.inf,) * 8


@dataclass(frozen=True, slots=True)
class Melted:
    """A man and a file that melted into the token(s) before the rank: `man` is a piece letter, `cost` in -ln p."""

    heard: tuple[str, ...]
    man: str
    file: int
    cost: float


@dataclass(frozen=True)
class SquareSounds:
    """The data of `shared/squares.toml`, ready to ask. File and rank indices are 0..7."""

    costs: dict[str, Costs]
    letters: dict[str, str]
    endings: dict[str, str]
    ranks: dict[str, int]
    melted: tuple[Melted, ...]
    liaison: frozenset[str]
    liaison_file: int
    liaison_share: float

    def files(self, heard: str, opens_list: bool = False) -> Costs:
        """A cost for each of the 8 files, given the letters heard. `opens_list`: the first square after a noun that
        governs several, where the s of the plural may have run into the letter."""
        costs = self.costs.get(heard) or self.costs.get(self.endings.get(heard[-2:], heard[:1])) or UNHEARD
        if not (opens_list and heard in self.liaison):
            return costs
        shares = [(1 - self.liaison_share) * math.exp(-c) for c in costs]
        shares[self.liaison_file] += self.liaison_share
        return tuple(-math.log(p) for p in shares)

    def rank_costs(self, rank: int) -> Costs:
        """A cost for each of the 8 ranks, given the rank heard."""
        return tuple(0.003 if i == rank else RANK_SLIP for i in range(8))


@dataclass(frozen=True, slots=True)
class Heard:
    """A square as heard: tokens [first, last), the letters, file and rank costs, and what a man melted into it may be
    as (piece letter, file, cost)."""

    first: int
    last: int
    letters: str
    files: Costs
    ranks: Costs
    melted: tuple[tuple[str, int, float], ...] = ()


def hear_square(texts: Sequence[str], glued: Sequence[bool], at: int, sounds: SquareSounds) -> Heard | None:
    """The square that begins at token `at` and is written as one (letters and a digit), or None.

    `texts` are lower-case tokens, `glued` says which belong to the same word as the token before.
    """
    digits = _digits_after(texts, glued, at)
    for melted in sounds.melted:
        size = len(melted.heard)
        if size > 1 and tuple(texts[at : at + size]) == melted.heard and len(digits) == 2 and digits[1] in RANKS:
            return _square(texts, at, size, sounds)
    if len(digits) != 1 or digits[0] not in RANKS:
        return None
    if texts[at].isdigit():
        alone = not glued[at] and glued[at + 1] and any(m.heard == (texts[at],) for m in sounds.melted)
        return _square(texts, at, 1, sounds) if alone else None
    return _square(texts, at, 1, sounds) if _letterlike(texts[at], sounds, glued[at + 1]) else None


def _digits_after(texts: Sequence[str], glued: Sequence[bool], at: int) -> list[str]:
    out: list[str] = []
    for i in range(at + 1, len(texts)):
        if not texts[i].isdigit() or (out and not glued[i]):
            break
        out.append(texts[i])
    return out


def _letterlike(text: str, sounds: SquareSounds, glued: bool) -> bool:
    if len(text) == 1:
        return text.isalpha()
    return glued and len(text) <= 3 and (text in sounds.costs or text[-2:] in sounds.endings or text in sounds.liaison)


def _square(texts: Sequence[str], at: int, size: int, sounds: SquareSounds) -> Heard:
    heard = tuple(texts[at : at + size])
    melted = tuple((m.man, m.file, m.cost) for m in sounds.melted if m.heard == heard)
    files = sounds.files(texts[at]) if size == 1 and texts[at].isalpha() else _NEVER
    return Heard(at, at + size + 1, texts[at], files, sounds.rank_costs(int(texts[at + size]) - 1), melted)


def hear_worded_square(texts: Sequence[str], at: int, sounds: SquareSounds) -> Heard | None:
    """The square at token `at` in everyday words ("we do", "the eight", "before"); asked only where one is due."""
    if texts[at] == "before":
        return _worded(at, at + 1, "b", 4, sounds)
    if at + 1 >= len(texts):
        return None
    named = len(texts[at]) == 1 and texts[at] in FILES[1:] + "vtpz"
    letter = texts[at] if named else sounds.letters.get(texts[at])
    after = texts[at + 1]
    rank = int(after) if after in RANKS else sounds.ranks.get(after)
    if letter is None or rank is None:
        return None
    # "the one on ...", "the to-and-fro": an article before a small word is no letter.
    if texts[at] == "the" and (rank == 1 or after in ("to", "for", "do", "too")):
        return None
    return _worded(at, at + 2, letter, rank, sounds)


def _worded(first: int, last: int, letters: str, rank: int, sounds: SquareSounds) -> Heard:
    likely = [sum(math.exp(-sounds.files(letter)[i]) for letter in letters) / len(letters) for i in range(8)]
    files = tuple(WORD_SQUARE - math.log(p) for p in likely)
    return Heard(first, last, letters, files, sounds.rank_costs(rank - 1))


def _file_costs(table: dict[str, Any]) -> dict[str, Costs]:
    """P(file | heard) from P(heard | file): counts per file, smoothed within families of letters, all files equal."""
    counts: dict[str, dict[str, float]] = table["heard"]
    families = [table["families"][name] for name in ("rhyme", "ay", "ef")]
    within, across = table["families"]["within"], table["families"]["across"]
    heard = {h for row in counts.values() for h in row} | set("abcdefghijklmnopqrstuvwxyz")
    costs: dict[str, Costs] = {}
    for letter in heard:
        row = []
        for file in FILES:
            kin = any(letter[0] in family and file in family for family in families)
            seen = counts[file].get(letter, 0) / max(1, sum(counts[file].values()))
            row.append(seen + (within if kin else across))
        costs[letter] = tuple(-math.log(p / sum(row)) for p in row)
    return costs


@lru_cache(maxsize=4)
def load_square_sounds(path: Path | None = None) -> SquareSounds:
    """The sounds of squares; `path` overrides the project's own table.

    Raises: DataError when the file is missing or a table in it is broken.
    """
    path = path or Path(str(data_path("shared/squares.toml")))
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        return SquareSounds(
            costs=_file_costs(table),
            letters=dict(table["letters"]),
            endings=dict(table["endings"]),
            ranks=dict(table["ranks"]),
            melted=tuple(
                Melted(tuple(m["heard"].split()), m["man"], FILES.index(m["file"]), float(m["cost"]))
                for m in table["melted"]
            ),
            liaison=frozenset(table["liaison"]["letters"]),
            liaison_file=FILES.index(table["liaison"]["file"]),
            liaison_share=float(table["liaison"]["share"]),
        )
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise DataError(f"{path.name}: not a readable TOML file ({error})") from error
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise DataError(f"{path.name}: a table of square sounds is missing or broken ({error!r})") from error
