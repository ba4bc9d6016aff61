"""Talks with marks: what each stretch of words truly did, carried over to every transcript of the talk."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lesson.align import align_words, map_range
from lesson.model import Talk
from lesson.read import read_talk

VERSIONS = ("exact", "captions", "heard-a", "heard-b")
_FILES = {"exact": "exact.txt", "captions": "captions.vtt", "heard-a": "heard-a.json", "heard-b": "heard-b.json"}


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark: the act, the words [first, last) it lies on, the path (UCI) from the chapter's start after it."""

    act: str
    first: int
    last: int
    path: tuple[str, ...] = ()
    san: str = ""
    how: str = "said"
    fen: str = ""


@dataclass(frozen=True, slots=True)
class Marked:
    """A talk in one transcript, with its marks in order; `true_words` are the words really said, `ranges` their
    places in the transcript."""

    name: str
    version: str
    talk: Talk
    marks: tuple[Mark, ...]
    true_words: tuple[str, ...]
    ranges: tuple[tuple[int, int], ...]


def load_marked(folder: Path, versions: Sequence[str] = VERSIONS) -> Iterator[Marked]:
    """Every transcript of the talk in `folder` that exists, with the marks of spans.json carried over."""
    script = tuple((folder / "script.txt").read_text(encoding="utf-8").split())
    spans = json.loads((folder / "spans.json").read_text(encoding="utf-8"))
    for version in versions:
        file = folder / _FILES[version]
        if not file.exists():
            continue
        talk = read_talk(file)
        ranges = tuple(align_words(script, [w.text for w in talk.words]))
        marks = carried_over(spans, ranges)
        yield Marked(folder.name, version, talk, marks, script, ranges)


def carried_over(spans: Sequence[dict[str, object]], ranges: Sequence[tuple[int, int]]) -> tuple[Mark, ...]:
    """The marks of a spans.json on the words of a transcript; `ranges` are the places of the true words there."""
    return tuple(_mark(span, ranges) for span in spans)


def _mark(span: dict[str, object], ranges: Sequence[tuple[int, int]]) -> Mark:
    words = span["words"]
    assert isinstance(words, list)
    first, last = map_range(ranges, words[0], words[1])
    path = span.get("path", ())
    assert isinstance(path, list | tuple)
    mark = Mark(
        str(span["act"]),
        first,
        last,
        tuple(path),
        str(span.get("san", "")),
        str(span.get("how", "said")),
        str(span.get("fen", "")),
    )
    return replace(mark, last=max(mark.first, mark.last))
