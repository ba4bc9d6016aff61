"""Opening names in the words of a talk, found by sound: "near dwarf" is the Najdorf, "caro can" the Caro-Kann.

Windows of up to five words are compared with every name by pronunciation. Three steps stay apart: a quick search over
outlines of sounds proposes, the weighted distance measures, and what overlaps is chosen among at the end.
"""

from __future__ import annotations

import tomllib
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from rapidfuzz.distance import Levenshtein
from rapidfuzz.process import cdist

from lesson.data import data_path
from lesson.hear.distance import skeleton, sound_distance, sound_weight
from lesson.hear.phonemes import base_form, is_listed, join_sounds, phonemes
from lesson.openings import OpeningName, names

LONGEST_WINDOW = 5
# -ln p of one sound quite wrong; set by hand.
COST_PER_SOUND = 2.3
# Share of a name's weight that may be wrong where something betrays a name: an article before it, or a word no
# dictionary holds. Everyday words without either, and short names, must be closer: "slow" is not the Slav.
_SLACK, _SLACK_TIGHT = 0.28, 0.1
_SHORT_WEIGHT = 3.2
# However long the name, this much wrong is no clear hit; in sounds.
_WORST = 1.5
# A stop or comma inside a name: as bad as half a sound.
_BREAK = 0.5
_STOPS = ".,;:?!\"'()\u201c\u201d\u2026"
_ENDS = frozenset(".,;:?!")
# Of two readings of the same words the one that explains more sound stays; a wrong sound outweighs this many right.
_EXPLAINS = 4
_ABBREVIATION = 4
# Doubt that a name of everyday words is meant as one, -ln p, although its article or suffix is there.
_DOUBT = {"": 0.0, "article": 0.7, "suffix": 0.4}


@dataclass(frozen=True, slots=True)
class NameHit:
    """An opening named by words [first, last) of the talk; `last` counts a "defence" or "variation" behind it.

    `name` is the weightiest reading, `names` all that the words may mean (an Exchange of several openings), and
    `cost` is -ln p: how far the sound is off, and the doubt that everyday words are a name at all.
    """

    first: int
    last: int
    name: OpeningName
    names: tuple[OpeningName, ...]
    cost: float


@dataclass(frozen=True, slots=True)
class _Span:
    """Words [first, last): `extra` distance for the breaks inside, and how far they may be a name misheard.

    `slack` is the share of the name's weight that may be wrong, `short` the same for a short name; `plain` holds
    words a misheard name would only hold if the name has them.
    """

    first: int
    last: int
    extra: float
    slack: float
    short: float
    plain: frozenset[str]


@dataclass(frozen=True)
class _Index:
    """Names by their exact sound; sounds of the written names by skeleton, which may be misheard."""

    exact: dict[str, tuple[OpeningName, ...]]
    fuzzy: dict[str, list[str]]
    beside: dict[str, frozenset[str]]


@lru_cache(maxsize=1)
def _index() -> _Index:
    by_words: dict[tuple[str, ...], list[OpeningName]] = defaultdict(list)
    for name in names():
        by_words[name.words].append(name)
    exact: dict[str, tuple[OpeningName, ...]] = {}
    fuzzy: dict[str, list[str]] = defaultdict(list)
    for words, same in by_words.items():
        for sound in join_sounds(phonemes(w) for w in words):
            if sound not in exact:
                exact[sound] = tuple(same)
                if same[0].common and same[0].needs != "suffix":
                    fuzzy[skeleton(sound)].append(sound)
    table = tomllib.loads(data_path("grammars/en-openings.toml").read_text(encoding="utf-8"))
    beside = {kind: frozenset(table[kind]) for kind in ("articles", "suffixes", "plain", "edges")}
    return _Index(exact, dict(fuzzy), beside)


def _spans(words: Sequence[str]) -> Iterator[tuple[_Span, tuple[str, ...]]]:
    """Every window of words, with its pronunciations."""
    beside = _index().beside
    bare = [base_form(w).strip(_STOPS) for w in words]
    sounds = [phonemes(w) for w in words]
    # Letters without a vowel are an abbreviation: it means itself.
    listed = [is_listed(w) or (len(w) <= _ABBREVIATION and not set("aeiouy").intersection(w)) for w in bare]
    digits = [any(c.isdigit() for c in w) for w in bare]
    plain = [beside["plain"].intersection(w.split("-")) for w in bare]
    breaks = [w[-1:] in _ENDS for w in words]
    for first in range(len(words)):
        article = first > 0 and bare[first - 1] in beside["articles"]
        said: tuple[str, ...] = ("",)
        for last in range(first + 1, min(first + LONGEST_WINDOW, len(words)) + 1):
            if not sounds[last - 1]:
                continue
            if not sounds[first]:
                break
            said = join_sounds((said, sounds[last - 1]), limit=4)
            everyday = all(listed[first:last])
            slack = _SLACK_TIGHT if everyday and (last == first + 1 or not article) else _SLACK
            short = 0.0 if everyday and last == first + 1 else _SLACK_TIGHT
            if any(digits[first:last]) or not beside["edges"].isdisjoint((bare[first], bare[last - 1])):
                slack = short = 0.0
            firm = frozenset().union(*plain[first:last])
            yield _Span(first, last, _BREAK * sum(breaks[first : last - 1]), slack, short, firm), said


def _alike(window_skeletons: list[str], known: list[str]) -> Iterator[tuple[str, str]]:
    """Pairs of skeletons that may belong together: at most one consonant of four wrong."""
    table = cdist(window_skeletons, known, scorer=Levenshtein.distance, score_cutoff=2, dtype="uint8")
    allowed = np.array([min(2, (len(k) + 1) // 4) for k in known], dtype="uint8")
    for row, column in zip(*(table <= allowed).nonzero(), strict=True):
        yield window_skeletons[row], known[column]


def _readings(words: Sequence[str]) -> Iterator[tuple[_Span, float, str]]:
    """(span, distance, sound of the name) for all that is near enough."""
    index = _index()
    by_skeleton: dict[str, dict[str, list[_Span]]] = defaultdict(lambda: defaultdict(list))
    for span, sounds in _spans(words):
        for sound in sounds:
            if sound in index.exact:
                yield span, span.extra, sound
            elif span.slack:
                by_skeleton[skeleton(sound)][sound].append(span)
    for heard, known in _alike(list(by_skeleton), list(index.fuzzy)):
        for sound in index.fuzzy[known]:
            for said, spans in by_skeleton[heard].items():
                yield from _near(sound, said, spans)


def _near(sound: str, said: str, spans: list[_Span]) -> Iterator[tuple[_Span, float, str]]:
    weight = sound_weight(sound)
    own = _index().exact[sound][0].words
    limits = [(min(_WORST, weight * (s.short if weight < _SHORT_WEIGHT else s.slack)) - s.extra, s) for s in spans]
    # The weights alone bound the distance from below: most pairs end here.
    if abs(sound_weight(said) - weight) > max(limit for limit, _ in limits):
        return
    distance = sound_distance(said, sound)
    for limit, span in limits:
        if distance <= limit and span.plain.issubset(own):
            yield span, distance + span.extra, sound


def _end(words: Sequence[str], span: _Span, name: OpeningName) -> int | None:
    """Where the name ends, its suffix included; None if what it needs beside it is not there."""
    articles, suffixes = _index().beside["articles"], _index().beside["suffixes"]
    first, last = span.first, span.last
    suffix = (
        last < len(words) and base_form(words[last]).strip(_STOPS) in suffixes and words[last - 1][-1:] not in _ENDS
    )
    article = first > 0 and base_form(words[first - 1]) in articles
    met = not name.needs or suffix or (name.needs == "article" and article) or suffixes.intersection(name.words)
    return last + suffix if met else None


def find_names(words: Sequence[str]) -> list[NameHit]:
    """The opening names a talk's words hold, in order, not overlapping; only clear ones.

    Raises: DataError if a data file of names or pronunciations is missing or broken.
    """
    hits: list[tuple[float, NameHit]] = []
    for span, distance, sound in _readings(words):
        meant = _index().exact[sound]
        end = _end(words, span, meant[0])
        if end is not None:
            cost = round(COST_PER_SOUND * distance + _DOUBT[meant[0].needs], 3)
            # Of two readings of the same words the one that explains more sound with less wrong stays.
            hits.append((sound_weight(sound) - _EXPLAINS * distance, NameHit(span.first, end, meant[0], meant, cost)))
    return _choose(hits)


def _choose(hits: list[tuple[float, NameHit]]) -> list[NameHit]:
    taken: set[int] = set()
    chosen: list[NameHit] = []
    for _, hit in sorted(hits, key=lambda h: (-h[0], h[1].first, h[1].last, h[1].cost)):
        if taken.isdisjoint(range(hit.first, hit.last)):
            taken.update(range(hit.first, hit.last))
            chosen.append(hit)
    return sorted(chosen, key=lambda h: h.first)
