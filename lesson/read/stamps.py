"""Text with `[m:ss]` or `[h:mm:ss]` stamps. Words belong to the stamp before them; it ends where the next begins."""

from __future__ import annotations

import re

from lesson.model import Word
from lesson.read.draft import Draft, tokens

# Up to nine digits: more cannot be a time, and int() of thousands of digits is slow or refused.
_STAMP = re.compile(r"\[(?:([0-9]{1,9}):(?=[0-5]?[0-9]:))?([0-9]{1,9}):([0-5][0-9])(?:[.,]([0-9]{1,3}))?\]")
_FIRST = re.compile(r"^[ \t]*" + _STAMP.pattern, re.MULTILINE)


def looks_like(text: str) -> bool:
    """A line begins with a stamp."""
    return _FIRST.search(text) is not None


def read(text: str) -> Draft:
    """Stamps may stand anywhere in a line. Words before the first stamp are kept, their times estimated."""
    draft = Draft()
    start: int | None = None
    passed = 0
    for match in _STAMP.finditer(text):
        draft.add([Word(token) for token in tokens(text[passed : match.start()])], start)
        start = _milliseconds(match)
        passed = match.end()
    draft.add([Word(token) for token in tokens(text[passed:])], start)
    return draft


def _milliseconds(match: re.Match[str]) -> int:
    hours, minutes, seconds, fraction = match.groups()
    whole = (int(hours or 0) * 60 + int(minutes)) * 60 + int(seconds)
    return whole * 1000 + int((fraction or "").ljust(3, "0"))
