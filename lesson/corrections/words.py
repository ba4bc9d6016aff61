"""Misheard words replaced everywhere in a talk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lesson.align import Range, spelled
from lesson.model import Cue, Talk, Word


def substituted(talk: Talk, heard: str, meant: str) -> Talk:
    """`talk` with `heard` replaced by `meant` wherever it was said; the same object where it never was."""
    places = _said(talk, heard)
    new_words = meant.split()
    if not places or not new_words:
        return talk
    words: list[Word] = []
    moved: list[int] = []  # old index -> new index
    at = 0
    for first, last in [*places, (len(talk.words), len(talk.words))]:
        moved += range(len(words), len(words) + first - at)
        words += talk.words[at:first]
        if first < last:
            moved += [len(words)] + [len(words) + len(new_words)] * (last - first - 1)
            words += _respoken(talk.words[first:last], new_words)
        at = last
    moved.append(len(words))
    cues = tuple(replace(cue, first=moved[cue.first], last=moved[cue.last]) for cue in talk.cues)
    return replace(talk, words=tuple(words), cues=_whole(cues, len(words)))


def _said(talk: Talk, heard: str) -> list[Range]:
    """Where `heard` was said, however it was split into words; places do not overlap."""
    text = "".join(map(spelled, heard.split()))
    keys = [spelled(word.text) for word in talk.words]
    out: list[Range] = []
    at = 0
    while text and at < len(keys):
        last, so_far = at, ""
        while keys[at] and last < len(keys) and len(so_far) < len(text) and text.startswith(so_far):
            so_far += keys[last]
            last += 1
        if so_far == text:
            out.append((at, last))
            at = last
        else:
            at += 1
    return out


def _respoken(old: Sequence[Word], texts: Sequence[str]) -> list[Word]:
    """`texts` in place of the words `old`, within their time and between their punctuation."""
    head, tail = old[0].text, old[-1].text
    opening = head[: len(head) - len(head.lstrip(_MARKS))]
    closing = tail[len(tail.rstrip(_MARKS)) :]
    dressed = [*texts]
    dressed[0] = opening + dressed[0]
    dressed[-1] += closing if not dressed[-1].endswith(closing) else ""
    start, end = old[0].start_ms, old[-1].end_ms
    sure = None if old[0].probability is None else 1.0
    if len(old) == len(texts):
        return [Word(text, was.start_ms, was.end_ms, sure) for text, was in zip(dressed, old, strict=True)]
    if start is None or end is None:
        return [Word(text, start, end, sure) for text in dressed]
    cuts = [start + (end - start) * i // len(texts) for i in range(len(texts) + 1)]
    return [Word(text, cuts[i], cuts[i + 1], sure) for i, text in enumerate(dressed)]


_MARKS = ".,;:!?…\"'()[]«»„“”‘’-–—"


def _whole(cues: Sequence[Cue], count: int) -> tuple[Cue, ...]:
    """Cues that hold every word once: one whose words went into the cue before it is dropped."""
    return tuple(cue for cue in cues if cue.first < cue.last <= count)
