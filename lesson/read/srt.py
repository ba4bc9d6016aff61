"""SubRip. There is no formal standard; the shape is the one described at matroska.org (technical/subtitles, SRT).

A cue is a number, a timing line and text up to an empty line. Chess talks have cues whose whole text is a number
("e" / "4"), so a bare number is taken as a cue's number only where the file's own habit makes it one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple

from lesson.errors import ReadError
from lesson.model import Word
from lesson.read.draft import Draft, Flaws, quoted, tokens
from lesson.settings import MAX_WORDS

_CLOCK = r"(?:([0-9]{1,9}):)?([0-9]{1,2}):([0-9]{1,2})[,.]([0-9]{1,3})(?![0-9])"
_TIMING = re.compile(rf"[ \t]*{_CLOCK}[ \t]*-->[ \t]*{_CLOCK}(?:[ \t].*)?")
_ANY_TIMING = re.compile(rf"^{_TIMING.pattern}$", re.MULTILINE)
_NUMBER = re.compile(r"[0-9]{1,9}")
_MARKUP = re.compile(r"</?(?:[bius]|font)(?:[ \t][^<>]*)?>|\{\\[^{}]*\}", re.IGNORECASE)


def looks_like(text: str) -> bool:
    """A line is a timing line."""
    return _ANY_TIMING.search(text) is not None


def read(text: str) -> Draft:
    """The words of the cues. Raises ReadError when no line is a timing line."""
    lines = text.split("\n")
    timings = list(islice(_timings(lines), MAX_WORDS + 1))
    if len(timings) > MAX_WORDS:
        raise ReadError(f"more than {MAX_WORDS} cues; split the transcript into one file per session")
    if not timings:
        raise ReadError('no line like "00:01:02,500 --> 00:01:04,000" found; SubRip needs one for every cue')
    draft = Draft()
    for cue in _cues(lines, timings, draft.flaws):
        said = "\n".join(lines[cue.first : cue.last])
        if "-->" in said:
            draft.flaws.add("an arrow stands in a cue's text; kept as text", f"line {cue.first + 1}")
        draft.add([Word(token) for token in tokens(_MARKUP.sub("", said))], cue.start_ms, cue.end_ms)
    return draft


class _Timing(NamedTuple):
    """A timing line: its index and the times."""

    at: int
    start_ms: int
    end_ms: int


@dataclass(frozen=True, slots=True)
class _Lines:
    """A cue's text lines, `[first, last)`, and its times."""

    first: int
    last: int
    start_ms: int | None
    end_ms: int | None


def _timings(lines: list[str]) -> Iterator[_Timing]:
    for at, line in enumerate(lines):
        match = _TIMING.fullmatch(line) if "-->" in line else None
        if match is not None:
            yield _Timing(at, _milliseconds(*match.groups()[:4]), _milliseconds(*match.groups()[4:]))


def _cues(lines: list[str], timings: list[_Timing], flaws: Flaws) -> Iterator[_Lines]:
    numbered = _is_numbered(lines, timings)
    first, previous = 0, None
    start: int | None = None
    end: int | None = None
    for at, next_start, next_end in timings:
        number = _number(lines, at - 1) if numbered and at > first else None
        follows = number == (previous or 0) + 1 and at - 1 > first
        if number is not None and not (follows or _is_blank(lines, at - 2)):
            flaws.add("a bare number stands directly above a timing line; kept as a word", f"line {at}")
            number = None
        if number is not None and previous is not None and number != previous + 1:
            flaws.add("the cue numbers do not follow each other; cues may be missing", f"line {at}")
        yield from _text(lines, first, at - (number is not None), start, end, flaws)
        previous = previous if number is None else number
        first, start, end = at + 1, next_start, next_end
    if numbered and previous is not None and _ends_in_number(lines, first, previous + 1):
        flaws.add("the file ends in what may be the number of a missing cue; kept as a word")
    yield from _text(lines, first, len(lines), start, end, flaws)


def _is_numbered(lines: list[str], timings: list[_Timing]) -> bool:
    """Whether most timing lines stand below a number that is no cue's text."""
    votes, previous, last_at = 0, 0, -1
    for at, _, _ in timings:
        number = _number(lines, at - 1)
        if number is not None:
            # A number between two timing lines may be the whole text of a cue: it does not count as a habit.
            votes += _is_blank(lines, at - 2) or (number == previous + 1 and at - 2 != last_at)
            previous = number
        last_at = at
    return 2 * votes > len(timings)


def _text(
    lines: list[str], first: int, last: int, start: int | None, end: int | None, flaws: Flaws
) -> Iterator[_Lines]:
    if start is None and any(line.strip() for line in lines[first:last]):
        flaws.add(
            "text stands before the first cue; kept, its times were estimated", quoted(" ".join(lines[first:last]))
        )
    yield _Lines(first, last, start, end)


def _ends_in_number(lines: list[str], first: int, number: int) -> bool:
    last = len(lines) - 1
    while last > first and not lines[last].strip():
        last -= 1
    return last > first and _number(lines, last) == number and _is_blank(lines, last - 1)


def _number(lines: list[str], at: int) -> int | None:
    line = lines[at].strip() if at >= 0 else ""
    return int(line) if _NUMBER.fullmatch(line) else None


def _is_blank(lines: list[str], at: int) -> bool:
    return at < 0 or not lines[at].strip()


def _milliseconds(hours: str | None, minutes: str, seconds: str, fraction: str) -> int:
    return ((int(hours or 0) * 60 + int(minutes)) * 60 + int(seconds)) * 1000 + int(fraction.ljust(3, "0"))
