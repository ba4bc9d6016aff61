"""CTM, time-marked words (NIST SCTK, doc/infmts.htm): `<file> <channel> <begin s> <duration s> <word> [<conf>]`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby, zip_longest

from lesson.errors import ReadError
from lesson.model import Word
from lesson.read.draft import Draft, Flaws, believable, quoted
from lesson.read.numbers import milliseconds, number

_BEGIN, _NEXT, _END = "<ALT_BEGIN>", "<ALT>", "<ALT_END>"
_LINES_TRIED = 20


@dataclass(frozen=True, slots=True)
class _Entry:
    """A line of the file: the recording's name, the channel, and a word or an alternation tag."""

    file: str
    channel: str
    word: Word


def looks_like(text: str) -> bool:
    """The first lines that are no comments have the columns of the format."""
    lines = [line for line in text[:10_000].split("\n") if line.strip() and not line.startswith(";;")][:_LINES_TRIED]
    rows = [line.split() for line in lines]
    if len(text) > 10_000 and len(rows) > 1:
        rows.pop()
    return bool(rows) and all(
        5 <= len(row) <= 6 and all(cell == "*" or number(cell) is not None for cell in row[2:4]) for row in rows
    )


def read(text: str) -> Draft:
    """The words of the file. The channels of a recording are merged by time and become the voices.

    The first alternative of a slot is the word, the others become `Word.others`. Raises ReadError when the file
    holds several recordings.
    """
    draft = Draft()
    entries = list(_entries(text, draft.flaws))
    names = sorted({entry.file for entry in entries})
    if len(names) > 1:
        raise ReadError(f"{len(names)} recordings in one file ({quoted(', '.join(names))}); give one file for each")
    channels = sorted({entry.channel for entry in entries})
    said = [(channel, word) for channel in channels for word in _slots(entries, channel, draft.flaws)]
    if len(channels) > 1:
        said = _merged(said)
    words = believable([word for _, word in said], draft.flaws)
    first = 0
    for channel, run in groupby(channel for channel, _ in said):
        last = first + len(list(run))
        draft.add(words[first:last], voice=channel if len(channels) > 1 else None)
        first = last
    return draft


def _entries(text: str, flaws: Flaws) -> Iterator[_Entry]:
    for at, line in enumerate(text.split("\n")):
        if line.startswith(";;") or not line.strip():
            continue
        row = line.split()
        if len(row) < 5:
            flaws.add("a line has fewer than five columns; left out", f"line {at + 1}, {quoted(line)}")
            continue
        start = milliseconds(row[2])
        duration = milliseconds(row[3])
        end = start + duration if start is not None and duration is not None else None
        if start is None and row[2] != "*":
            flaws.add("a begin time is no number; estimated", f"line {at + 1}, {quoted(row[2])}")
        yield _Entry(row[0], row[1], Word(row[4], start, end, number(row[5]) if len(row) > 5 else None))


def _slots(entries: list[_Entry], channel: str, flaws: Flaws) -> Iterator[Word]:
    """The words of a channel in the order of the file, each alternation folded into its first alternative."""
    branches: list[list[Word]] | None = None
    for entry in entries:
        if entry.channel != channel:
            continue
        tag = entry.word.text.upper()
        if tag == _BEGIN and branches is None:
            branches = [[]]
        elif tag == _NEXT and branches is not None:
            branches.append([])
        elif tag == _END and branches is not None:
            yield from _folded(branches)
            branches = None
        elif tag in (_BEGIN, _NEXT, _END):
            flaws.add("an alternation tag stands out of place; passed over", entry.word.text)
        elif branches is None:
            yield entry.word
        else:
            branches[-1].append(entry.word)
    if branches is not None:
        flaws.add("an alternation is not closed; closed at the end of its channel")
        yield from _folded(branches)


def _folded(branches: list[list[Word]]) -> list[Word]:
    """The first branch with words, the others as alternatives: word by word where the lengths agree, else as phrases
    at the first word."""
    first, *others = [branch for branch in branches if branch] or [[]]
    if not first:
        return []
    if all(len(other) == len(first) for other in others):
        slots = [tuple(word.text for word in slot) for slot in zip_longest(*others)] or [()] * len(first)
        return [replace(word, others=slot) for word, slot in zip(first, slots, strict=True)]
    phrases = tuple(" ".join(word.text for word in other) for other in others)
    return [replace(first[0], others=phrases), *first[1:]]


def _merged(said: list[tuple[str, Word]]) -> list[tuple[str, Word]]:
    """By time; a word without a time stays behind the word it followed."""
    keyed: list[tuple[int, int]] = []
    channel, time = "", 0
    for at, (own, word) in enumerate(said):
        if own != channel:
            channel, time = own, 0
        time = word.start_ms if word.start_ms is not None else time
        keyed.append((time, at))
    return [said[at] for _, at in sorted(keyed)]
