"""The table of transcript formats, and which row a text belongs to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import PurePath

from lesson.errors import ReadError, UsageError
from lesson.read import ctm, plain, recogniser, srt, stamps, vtt
from lesson.read.draft import Draft


@dataclass(frozen=True, slots=True)
class Format:
    """One row: `name` as on the command line, `suffixes` that settle what the content leaves open.

    `looks_like` tells whether a text is of the format; `read` reads it and raises ReadError when it cannot. Both get
    text with LF line ends and no byte-order mark.
    """

    name: str
    title: str
    suffixes: tuple[str, ...]
    looks_like: Callable[[str], bool]
    read: Callable[[str], Draft]


FORMATS = (
    Format("vtt", "WebVTT captions", (".vtt",), vtt.looks_like, vtt.read),
    Format("json", "recogniser JSON", (".json", ".jsonl"), recogniser.looks_like, recogniser.read),
    Format("srt", "SubRip subtitles", (".srt",), srt.looks_like, srt.read),
    Format("ctm", "CTM time-marked words", (".ctm",), ctm.looks_like, ctm.read),
    Format("stamps", "text with [m:ss] stamps", (), stamps.looks_like, stamps.read),
    Format("text", "plain text", (".txt", ".md"), plain.looks_like, plain.read),
)
"""In the order they are tried; the last row takes any text."""

# What people have beside a transcript: better refused by name than read as plain words.
_OTHERS = (
    ("{\\rtf", "a rich text document"),
    ("<!doctype", "a web page"),
    ("<html", "a web page"),
    ("<?xml", "an XML document"),
    ("[script info]", "a subtitle script with styles"),
)


def named(name: str) -> Format:
    """The row called `name`. Raises UsageError, naming all rows, when there is none."""
    for row in FORMATS:
        if row.name == name:
            return row
    raise UsageError(f'no format is called "{name}"; there are {", ".join(row.name for row in FORMATS)}')


def found(text: str, name: str) -> Format:
    """The row `text` belongs to by its content; where that says plain text only, by the suffix of the file `name`.

    Raises ReadError when the text begins like something that is no transcript.
    """
    row = next(row for row in FORMATS if row.looks_like(text))
    if row is not FORMATS[-1]:
        return row
    head = text[:100].lstrip().lower()
    for opening, what in _OTHERS:
        if head.startswith(opening):
            raise ReadError(f"this is {what}; export it as plain text or captions")
    suffix = PurePath(name).suffix.lower()
    return next((other for other in FORMATS if suffix in other.suffixes), row)
