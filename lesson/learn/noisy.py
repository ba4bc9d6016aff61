"""More to learn from: talks no recogniser has heard, as one might have heard them.

What recognisers made of the words of other talks is counted, in runs of up to three words, and drawn from by chance
with a fixed seed; words never met are heard right. A recogniser keeps to its slips within a talk: what it made of a
few talks, chosen for each new one, goes before what it made of others.
"""

from __future__ import annotations

import json
import random
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path

from lesson.align import Range
from lesson.learn.marked import Marked, carried_over
from lesson.model import Cue, Talk, Word

Heard = tuple[tuple[str, float | None], ...]
Hearings = dict[tuple[str, ...], list[tuple[str, Heard]]]  # true words -> the talk and what was heard in it

NOISY = "noisy"  # the format of such a talk
_LONGEST, _OFTEN = 3, 3
_MODELS = 3  # talks whose slips go first; set by hand
_MS_PER_WORD = 350
_CAPTION = 7  # words
_STOPS = ".,;:!?"


def count_hearings(talks: Iterable[Marked]) -> Hearings:
    """For runs of true words, with and without their last stop, every way they were heard."""
    out: Hearings = defaultdict(list)
    for marked in talks:
        words = marked.talk.words
        keys = [_key(word) for word in marked.true_words]
        for first in range(len(keys)):
            for last in range(first + 1, min(len(keys), first + _LONGEST) + 1):
                a, b = marked.ranges[first][0], marked.ranges[last - 1][1]
                if _apart(marked.ranges, first, last):
                    heard = tuple((w.text, w.probability) for w in words[a:b])
                    run = keys[first:last]
                    out[tuple(run)].append((marked.name, heard))
                    if run[-1][-1:] in _STOPS:
                        bare = tuple((t.rstrip(_STOPS), p) for t, p in heard)
                        out[(*run[:-1], run[-1].rstrip(_STOPS))].append((marked.name, bare))
    return dict(out)


def noisy(folder: Path, hearings: Hearings, version: str) -> Marked:
    """The talk of a folder as it might have been heard; `version` names it, and "captions" drops stops and case."""
    script = tuple((folder / "script.txt").read_text(encoding="utf-8").split())
    chance = random.Random(f"{folder.name} {version}")
    names = sorted({name for ways in hearings.values() for name, _ in ways})
    models = frozenset(chance.sample(names, min(_MODELS, len(names))))
    words: list[tuple[str, float | None]] = []
    ranges: list[Range] = []
    at = 0
    while at < len(script):
        run, heard = _draw(script, at, hearings, models, chance)
        start = len(words)
        words += heard
        if run == len(heard):
            ranges += [(start + k, start + k + 1) for k in range(run)]
        else:
            ranges += [(start, len(words))] * run
        at += run
    if version == "captions":
        words = [(re.sub(rf"[{_STOPS}]", "", text.lower()), None) for text, _ in words]
    talk = Talk(
        folder.name,
        NOISY,
        tuple(Word(t, k * _MS_PER_WORD, (k + 1) * _MS_PER_WORD, p) for k, (t, p) in enumerate(words)),
        tuple(
            Cue(k, min(len(words), k + _CAPTION), k * _MS_PER_WORD, min(len(words), k + _CAPTION) * _MS_PER_WORD)
            for k in range(0, len(words), _CAPTION)
        ),
    )
    spans = json.loads((folder / "spans.json").read_text(encoding="utf-8"))
    return Marked(folder.name, version, talk, carried_over(spans, ranges), script, tuple(ranges))


def _draw(
    script: Sequence[str], at: int, hearings: Hearings, models: frozenset[str], chance: random.Random
) -> tuple[int, Heard]:
    """(words used, what was heard) from a place of the script on, by the longest run met often enough."""
    for length in range(min(_LONGEST, len(script) - at), 0, -1):
        key = tuple(_key(word) for word in script[at : at + length])
        ways = hearings.get(key, ())
        if len(ways) >= _OFTEN:
            _, heard = chance.choice([way for way in ways if way[0] in models] or ways)
            if heard:
                return length, heard
    return 1, ((script[at], None),)


def _key(word: str) -> str:
    stop = word[-1] if word[-1] in _STOPS else ""
    return re.sub(r"[^\w'-]", "", word.lower()) + stop


def _apart(ranges: Sequence[Range], first: int, last: int) -> bool:
    """Whether a run of words was heard apart from the words around it."""
    a, b = ranges[first][0], ranges[last - 1][1]
    before = first == 0 or ranges[first - 1][1] <= a
    after = last == len(ranges) or ranges[last][0] >= b
    return before and after
