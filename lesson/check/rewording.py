"""A script's words as they are best heard, each in its place: notation read out, a stop where a paragraph ends, and the
man told behind its square named before it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from lesson.check.diagrams import diagrams
from lesson.check.hearing import heard
from lesson.check.notation import as_read_out
from lesson.model import Talk

# A mark without letters, so that nothing is heard in it.
_SILENT = "\u00b7"
_ENDS = re.compile(r"[.,;:!?][\"')*_\u201d]*$")


def reworded(talk: Talk) -> Talk:
    """The talk as it is heard. A script of headings and paragraphs has its stops; the words of a diagram are silent."""
    texts = as_read_out([word.text for word in talk.words])
    if not talk.timed:
        for cue in talk.cues:
            if not _ENDS.search(texts[cue.last - 1]):
                texts[cue.last - 1] += "."
    for diagram in diagrams([word.text for word in talk.words]):
        silent = [_SILENT] * (diagram.last - diagram.first - 1)
        texts[diagram.first : diagram.last] = [*silent, f"{_SILENT}."]
    for first, last, said in [*_nouns(texts), *_apart(texts)]:
        texts[first:last] = said
    return replace(talk, words=tuple(replace(w, text=text) for w, text in zip(talk.words, texts, strict=True)))


def _nouns(texts: Sequence[str]) -> Iterator[tuple[int, int, list[str]]]:
    """Words [first, last) that tell a move by a noun, "a retreat to b3 by the bishop", said as "bishop to b3"."""
    for first, last, found in _found("move-noun", texts):
        told = found.string[found.start() : found.end(1)].count(" ") + 1
        behind = [_SILENT + _stop(text) for text in texts[first + told : last]]
        yield first, last, [found[2], *texts[first + 1 : first + told], *behind]


def _stop(text: str) -> str:
    """The stop behind a word."""
    return "" if (found := _ENDS.search(text)) is None else found[0]


def _apart(texts: Sequence[str]) -> Iterator[tuple[int, int, list[str]]]:
    """Words that tell where a man goes behind a comma, "the bishop goes back one step, to a4", without the comma."""
    for first, last, _ in _found("apart", texts):
        yield first, last, [text.rstrip(",") for text in texts[first : last - 1]] + [texts[last - 1]]


def _found(means: str, texts: Sequence[str]) -> Iterator[tuple[int, int, re.Match[str]]]:
    """Every match of a pattern over the words, with the words it covers."""
    text = " ".join(texts).lower()
    for found in heard(means).finditer(text):
        first = text[: found.start()].count(" ")
        yield first, first + found[0].count(" ") + 1, found
