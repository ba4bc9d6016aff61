"""Where each word of a talk stands in its file."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

# Characters within which a word is looked for behind the word before: headers and times of a cue lie between.
_REACH = 2000


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in a text: `line` and `column` count from 1, columns in characters (code points), as `length`."""

    line: int
    column: int
    length: int


def places(text: str, words: Sequence[str]) -> list[Spot]:
    """The spot of each word. One that is not in the text as it is (an escape, a mended character) has the spot of the
    word before it."""
    starts = [0]
    starts += [at + 1 for at, character in enumerate(text) if character == "\n"]
    out: list[Spot] = []
    at, length = 0, 0
    cursor = 0
    for word in words:
        found = text.find(word, cursor, cursor + len(word) + _REACH)
        if found >= 0:
            at, length = found, len(word)
            cursor = found + length
        line = bisect_right(starts, at)
        out.append(Spot(line, at - starts[line - 1] + 1, length))
    return out
