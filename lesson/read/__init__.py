"""Read: from a transcript file to a Talk, what was said and when."""

from __future__ import annotations

from pathlib import Path

from lesson.errors import ReadError
from lesson.model import Talk
from lesson.read.draft import Flaws
from lesson.read.formats import FORMATS, Format, found, named
from lesson.read.source import decode, load

__all__ = ["FORMATS", "Format", "read_talk", "read_text"]


def read_talk(path: Path, format: str | None = None) -> Talk:
    """The talk in the file `path`; `format` (a name of FORMATS) overrules what the content suggests.

    Every whitespace-separated token is a word and keeps its characters. Either all words have times (`_ms`, in
    order, without overlap) or none. What was mended on the way is in `Talk.flaws`. Raises ReadError when the file
    is missing, too large, no text, broken or without a word; UsageError when `format` is unknown.
    """
    if format is not None:
        named(format)
    return read_text(load(path), str(path), format)


def read_text(data: bytes, name: str, format: str | None = None) -> Talk:
    """The talk in the bytes of a file called `name`, as `read_talk`. The talk is named by the name's stem."""
    flaws = Flaws()
    try:
        text = decode(data, flaws)
        row = found(text, name) if format is None else named(format)
        draft = row.read(text)
        draft.flaws = flaws.joined(draft.flaws)
        return draft.finish(name, row.name)
    except ReadError as error:
        raise ReadError(f"{name}: {error}") from None
