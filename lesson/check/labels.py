"""Lines of a script that have names of their own, "Line A", and mentions of one that it does not have."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise

from lesson.check.fault import Fault
from lesson.check.hearing import heard
from lesson.model import Talk

_MARKS = "#*_()\"'"
# A letter or a number; a small letter after "line" begins a move.
_NAME = re.compile(r"^(?:[A-H]|[1-9]\d?)$")
# One name alone is no list of lines.
_FEWEST = 2


def missing_lines(talk: Talk) -> Iterator[Fault]:
    """Lines mentioned by a name that heads none, where the script heads its lines by such names."""
    texts = [word.text for word in talk.words]
    heads = {
        cue.first + next((i for i, t in enumerate(texts[cue.first : cue.last]) if t.strip("#*_-")), 0)
        for cue in talk.cues
    }
    named = list(_named(texts))
    for kind in dict.fromkeys(kind for _, kind, _ in named):
        told = [name for at, noun, name in named if noun == kind and at in heads]
        if len(told) < _FEWEST:
            continue
        for at, noun, name in named:
            alike = any(name.isdigit() == other.isdigit() for other in told)
            if noun == kind and alike and name not in told:
                lines = ", ".join(f"{kind} {other}" for other in dict.fromkeys(told))
                message = f'there is no "{kind} {name}" to go to; the script has {lines}'
                yield Fault("return", message, at, at + 2)


def is_name(word: str) -> bool:
    """Whether a word may be the name of a line."""
    return bool(_NAME.match(word.strip(_MARKS + ".,;:!?")))


def _named(texts: Sequence[str]) -> Iterator[tuple[int, str, str]]:
    """Each word that means a line and has a name behind it: its place, the word, the name."""
    for at, (text, following) in enumerate(pairwise(texts)):
        noun, name = text.lower().strip(_MARKS), following.strip(_MARKS + ".,;:!?")
        if heard("line").fullmatch(noun) and is_name(following):
            yield at, noun, name
