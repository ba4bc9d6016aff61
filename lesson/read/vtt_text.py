"""The text of a WebVTT cue: voices, word times, character references (W3C WebVTT, "WebVTT cue text parsing rules")."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import groupby

from lesson.model import Word
from lesson.read.draft import Draft, Flaws, refuse_flood

TIMESTAMP = r"([0-9]+):([0-9]{2})(?::([0-9]{2}))?\.([0-9]{3})(?![0-9])"
"""Pattern of "collect a WebVTT timestamp"; `milliseconds` checks its four groups."""

# Hours of more digits are beyond any recording; int() of thousands of digits is slow or refused.
_MAX_HOUR_DIGITS = 9
_VOICE = re.compile(r"v(?:\.[^ \t\n\f]*)?(?:[ \t\n\f](.*))?", re.DOTALL)
_TAG_NAME = re.compile(r"[^. \t\n\f]*")
_SPANS = frozenset({"c", "i", "b", "u", "ruby", "rt", "v", "lang"})
_NO_TAG = 'a "<" opens no tag; kept as text, where the standard would swallow the words after it'


def milliseconds(first: str, second: str, third: str | None, fraction: str) -> int | None:
    """The time that the groups of `TIMESTAMP` give, None where the standard says error."""
    if third is None:
        if len(first) != 2 or int(first) > 59:
            return None
        first, second, third = "0", first, second
    if int(second) > 59 or int(third) > 59:
        return None
    hours = int(first) if len(first.lstrip("0")) <= _MAX_HOUR_DIGITS else 10**_MAX_HOUR_DIGITS
    return ((hours * 60 + int(second)) * 60 + int(third)) * 1000 + int(fraction)


def add_cue(draft: Draft, text: str, start_ms: int, end_ms: int, where: str) -> None:
    """Append the words of one cue to `draft`, one block for each stretch of one voice."""
    said = _Said()
    for piece, is_tag in _pieces(text, draft.flaws, where):
        if is_tag:
            said.tag(piece)
        else:
            said.parts.append(piece)
            said.length += len(piece)
    words = said.words()
    voices = [voice for _, voice in words]
    first = 0
    for voice, group in groupby(voices):
        last = first + len(list(group))
        draft.add(
            [word for word, _ in words[first:last]],
            start_ms if first == 0 else None,
            end_ms if last == len(words) else None,
            voice,
        )
        first = last


def _pieces(text: str, flaws: Flaws, where: str) -> Iterator[tuple[str, bool]]:
    """Stretches of text with character references resolved (False) and insides of tags (True)."""
    before, *opened = text.split("<")
    yield html.unescape(before), False
    for part in opened:
        tag, closed, after = part.partition(">")
        if closed and not tag[:1].isspace():
            yield tag, True
            yield html.unescape(after), False
        else:
            flaws.add(_NO_TAG, where)
            yield html.unescape("<" + part), False


@dataclass(slots=True)
class _Said:
    """The plain text so far, with the places (character offsets) where a time stood or the voice changed."""

    parts: list[str] = field(default_factory=list)
    length: int = 0
    times: list[tuple[int, int]] = field(default_factory=list)
    voices: list[tuple[int, str | None]] = field(default_factory=list)
    open: list[tuple[str, str | None]] = field(default_factory=list)

    def tag(self, inside: str) -> None:
        """Take note of a tag, given without its angle brackets."""
        if inside[:1].isdigit():
            match = re.fullmatch(TIMESTAMP, inside)
            time = milliseconds(*match.groups()) if match else None
            if time is not None:
                self.times.append((self.length, time))
        elif inside.startswith("/"):
            self._close(inside[1:])
        else:
            name = (_TAG_NAME.match(inside) or [""])[0]
            if name in _SPANS and (name != "rt" or self._innermost() == "ruby"):
                self.open.append((name, _voice(inside) if name == "v" else self._speaking()))
        self.voices.append((self.length, self._speaking()))

    def words(self) -> list[tuple[Word, str | None]]:
        """The words with their voice. A time stands at the word after it, and ends the word before it."""
        text = "".join(self.parts)
        refuse_flood(text)
        found = [(match.start(), match.end()) for match in re.finditer(r"\S+", text)]
        starts: list[int | None] = [None] * len(found)
        ends: list[int | None] = [None] * len(found)
        at = 0
        for offset, time in self.times:
            while at < len(found) and found[at][1] <= offset:
                at += 1
            if at < len(found) and offset <= found[at][0]:
                starts[at] = time
            if at and offset >= found[at - 1][1] and ends[at - 1] is None:
                ends[at - 1] = time
        return [
            (Word(text[a:b], start, end), voice)
            for (a, b), start, end, voice in zip(found, starts, ends, self._voice_at(found), strict=True)
        ]

    def _voice_at(self, found: list[tuple[int, int]]) -> Iterator[str | None]:
        voice: str | None = None
        at = 0
        for start, _ in found:
            while at < len(self.voices) and self.voices[at][0] <= start:
                voice = self.voices[at][1]
                at += 1
            yield voice

    def _close(self, name: str) -> None:
        if name == self._innermost():
            self.open.pop()
        elif name == "ruby" and self._innermost() == "rt":
            del self.open[-2:]

    def _innermost(self) -> str | None:
        return self.open[-1][0] if self.open else None

    def _speaking(self) -> str | None:
        return self.open[-1][1] if self.open else None


def _voice(inside: str) -> str | None:
    match = _VOICE.fullmatch(inside)
    return " ".join(html.unescape(match[1] or "").split()) or None if match else None
