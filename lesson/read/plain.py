"""Plain text without times; a paragraph is a cue. Markdown is read as plain text, its marks stay in the words."""

from __future__ import annotations

from collections.abc import Iterator

from lesson.model import Word
from lesson.read.draft import Draft, tokens


def looks_like(text: str) -> bool:
    """Any text will do: this is the last row of the table."""
    return bool(text)


def read(text: str) -> Draft:
    """Every whitespace-separated token is a word."""
    draft = Draft()
    for paragraph in _paragraphs(text):
        draft.add([Word(token) for token in tokens(paragraph)])
    return draft


def _paragraphs(text: str) -> Iterator[str]:
    lines: list[str] = []
    for line in text.split("\n"):
        if line.strip():
            lines.append(line)
        elif lines:
            yield "\n".join(lines)
            lines = []
    if lines:
        yield "\n".join(lines)
