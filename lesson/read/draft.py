"""What every reader fills in, and how it becomes a Talk."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import PurePath

from lesson.errors import ReadError
from lesson.model import Cue, Talk, Word
from lesson.read.times import settle
from lesson.settings import MAX_WORDS, SHOWN_CHARACTERS

_TOO_LONG = f"more than {MAX_WORDS} words; split the transcript into one file per session"


def quoted(text: str) -> str:
    """`text` in quotes on one line, shortened and without control characters, for use in a message."""
    line = "".join(c if c.isprintable() else " " for c in text[: SHOWN_CHARACTERS + 1])
    return f'"{line[:SHOWN_CHARACTERS]}…"' if len(text) > SHOWN_CHARACTERS else f'"{line}"'


def refuse_flood(text: str) -> None:
    """Raise ReadError when `text` has more words than a talk may have, before they are made: short words by the
    hundred million would need gigabytes."""
    if len(text) > 2 * MAX_WORDS and sum(1 for _ in islice(re.finditer(r"\S+", text), MAX_WORDS + 1)) > MAX_WORDS:
        raise ReadError(_TOO_LONG)


def tokens(text: str) -> list[str]:
    """The whitespace-separated tokens of `text`. Raises ReadError when there are more than a talk may have."""
    refuse_flood(text)
    return text.split()


class Flaws:
    """Counts what was met and mended, one line per kind with the first place it was met."""

    def __init__(self) -> None:
        self._kinds: dict[str, tuple[int, str]] = {}

    def add(self, kind: str, where: str = "") -> None:
        """Count one more flaw of this kind. `where` is kept for the first of a kind only."""
        count, first = self._kinds.get(kind, (0, where))
        self._kinds[kind] = (count + 1, first)

    def joined(self, later: Flaws) -> Flaws:
        """These flaws and then those of `later`, which shares no kind with these."""
        both = Flaws()
        both._kinds = {**self._kinds, **later._kinds}
        return both

    def lines(self) -> tuple[str, ...]:
        """One line per kind, in the order the kinds were first met."""
        return tuple(
            f"{kind} ({count}x, first at {first})" if first else f"{kind} ({count}x)"
            for kind, (count, first) in self._kinds.items()
        )


def believable(words: list[Word], flaws: Flaws) -> list[Word]:
    """The words, without any probability when one is outside 0..1: then the file's scores are something else."""
    if all(word.probability is None or 0 <= word.probability <= 1 for word in words):
        return words
    flaws.add("confidences are not within 0..1; none was used")
    return [replace(word, probability=None) for word in words]


@dataclass(frozen=True, slots=True)
class Block:
    """Words the file kept together, with the times (`_ms`) and the voice the file gave the block, if any."""

    words: list[Word]
    start_ms: int | None = None
    end_ms: int | None = None
    voice: str | None = None


@dataclass(slots=True)
class Draft:
    """A talk as the file tells it: times may be missing, may contradict each other, may run backwards."""

    blocks: list[Block] = field(default_factory=list)
    flaws: Flaws = field(default_factory=Flaws)
    count: int = 0

    def add(
        self, words: list[Word], start_ms: int | None = None, end_ms: int | None = None, voice: str | None = None
    ) -> None:
        """Append a block; one without words is dropped. Raises ReadError when the talk gets too long."""
        self.count += len(words)
        if self.count > MAX_WORDS:
            raise ReadError(_TOO_LONG)
        if words:
            self.blocks.append(Block(words, start_ms, end_ms, voice))

    def finish(self, name: str, format: str) -> Talk:
        """The talk, with every word timed or none. Raises ReadError when there is no word."""
        if not self.blocks:
            raise ReadError(_nothing_said(self.flaws))
        words = [_writable(word, self.flaws) for block in self.blocks for word in block.words]
        words = self._timed(words)
        cues: list[Cue] = []
        first = 0
        for block in self.blocks:
            last = first + len(block.words)
            cues.append(Cue(first, last, words[first].start_ms, words[last - 1].end_ms, block.voice))
            first = last
        return Talk(PurePath(name).stem, format, tuple(words), tuple(cues), self.flaws.lines())

    def _timed(self, words: list[Word]) -> list[Word]:
        starts = [word.start_ms for word in words]
        ends = [word.end_ms for word in words]
        first = 0
        for block in self.blocks:
            last = first + len(block.words) - 1
            if starts[first] is None:
                starts[first] = block.start_ms
            if ends[last] is None:
                ends[last] = block.end_ms
            first = last + 1
        if all(time is None for time in (*starts, *ends)):
            return words
        spans = settle(
            starts, ends, [len(word.text) for word in words], lambda kind, at: self.flaws.add(kind, _where(at, words))
        )
        return [replace(word, start_ms=start, end_ms=end) for word, (start, end) in zip(words, spans, strict=True)]


def _where(index: int, words: list[Word]) -> str:
    return f"word {index + 1}, {quoted(words[index].text)}"


def _nothing_said(flaws: Flaws) -> str:
    reasons = "; ".join(flaws.lines())
    return f"no words found{f': {reasons}' if reasons else ''}; give a transcript of the talk"


def _writable(word: Word, flaws: Flaws) -> Word:
    """Half of a surrogate pair can stand in a JSON escape but in no UTF-8 file; it becomes U+FFFD."""
    if not any("\ud800" <= c <= "\udfff" for text in (word.text, *word.others) if not text.isascii() for c in text):
        return word
    flaws.add("a character is half of a surrogate pair; replaced by U+FFFD", quoted(word.text))

    def whole(text: str) -> str:
        return "".join("\ufffd" if "\ud800" <= c <= "\udfff" else c for c in text)

    return replace(word, text=whole(word.text), others=tuple(whole(other) for other in word.others))
