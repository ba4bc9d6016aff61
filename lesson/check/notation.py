"""Written notation in a script: read out as it would be spoken, and taken at its letter."""

from __future__ import annotations

import re
from collections.abc import Sequence

import chess

from lesson.check.legal import Spoken

_NUMBER = re.compile(r"^[(*_]*(?P<number>\d{1,3})(?P<dots>\.+\u2026?|\u2026)")
# The same without its dot, a word of its own: "4 Nf3".
_BARE = re.compile(r"^[(*_]*(?P<number>\d{1,3})(?P<dots>)$")
_SAN = re.compile(
    r"^[(*_]*(?:(?P<piece>[NBRQK]?)(?P<file>[a-h]?)(?P<rank>[1-8]?)(?P<take>x?)(?P<target>[a-h][1-8])(?:=(?P<promote>[NBRQ]))?"
    r"|(?P<castle>[O0]-[O0](?:-[O0])?))[+#!?]*[)*_.,;:]*$"
)
_BREATH = re.compile(r"[.,;:!?]$")
# A mark without letters, so that nothing is heard in it but the break between two moves.
_SILENT = "\u00b7,"
# So many moves with the letter of a man or a cross: then a square alone is a pawn's move, as the notation has it.
_WRITTEN = 2


def as_read_out(texts: Sequence[str]) -> list[str]:
    """Words with written notation as it would be read out: "4. Nf3 d6" is "knight f3, d6", without the number and with
    a breath between two moves. Words keep their places."""
    out = []
    for text, following in zip(texts, [*texts[1:], ""], strict=True):
        if match := number_before(text, following):
            rest = text[match.end() :]
            if rest and _SAN.match(rest):
                text = rest
            elif not rest and _SAN.match(following):
                text = _SILENT
        goes_on = _SAN.match(following) or _NUMBER.match(following) or _BARE.match(following)
        if _SAN.match(text) and not _BREATH.search(text) and goes_on:
            text += ","
        out.append(text)
    return out


def number_before(text: str, following: str) -> re.Match[str] | None:
    """The `number` and `dots` a word begins with, those of a move: "4.", "4...d6"; without dots right before a move."""
    return _NUMBER.match(text) or (_BARE.match(text) if _SAN.match(following) else None)


def is_written(words: Sequence[str]) -> bool:
    """Whether a script writes its moves in notation, at least in part."""
    found = (match for word in words if (match := _SAN.match(word)))
    return sum(bool(m["piece"] or m["take"] or m["castle"]) for m in found) >= _WRITTEN


def exactly(word: str, at: int) -> Spoken | None:
    """The move that a word of notation, the word `at`, stands for, None where it is no notation."""
    match = _SAN.match(word)
    if match is None:
        return None
    if match["castle"]:
        return Spoken(at, at + 1, "K", None, "long" if match["castle"].count("-") == 2 else "short")
    file = "abcdefgh".index(match["file"]) if match["file"] else None
    origin = chess.parse_square(match["file"] + match["rank"]) if match["file"] and match["rank"] else None
    return Spoken(
        at, at + 1, match["piece"] or "P", chess.parse_square(match["target"]), "", bool(match["take"]), file, origin,
        match["promote"] or "", int(match["rank"]) - 1 if match["rank"] else None,
    )  # fmt: skip
