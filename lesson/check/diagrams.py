"""Positions written as FEN in a script."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import chess

from lesson.hear.placing import wrong_with

# The board of a FEN (PGN standard, 16.1.3.1), loosely, so that one with a rank too few or too long is known for what it
# was meant to be.
_BOARD = re.compile(r"^[\"'(`*_\[]*([pnbrqkPNBRQK1-9]{1,12}(?:/[pnbrqkPNBRQK1-9]{1,12}){5,9})([\"')`*_.,;:\]]*)$")
_FIELDS = (r"[wb]", r"-|K?Q?k?q?", r"-|[a-h][36]", r"\d{1,3}", r"\d{1,3}")
_TRAIL = "\"')`*_.,;:]"


@dataclass(frozen=True, slots=True)
class Diagram:
    """A position written at words [first, last): its `fen`, and what is `wrong` with it, "" where nothing is."""

    first: int
    last: int
    fen: str
    wrong: str = ""


def diagrams(words: Sequence[str]) -> list[Diagram]:
    """Every FEN among the words; fields that are left out are White's move and no rights."""
    out = []
    for first, word in enumerate(words):
        match = _BOARD.match(word)
        if match is None:
            continue
        fields = [match[1]]
        last = first + 1
        for pattern in _FIELDS:
            bare = words[last].rstrip(_TRAIL) if last < len(words) and not match[2] else ""
            if not bare or not re.fullmatch(pattern, bare):
                break
            fields.append(bare)
            last += 1
            if bare != words[last - 1]:
                break
        fen = " ".join([*fields, *("w", "-", "-", "0", "1")[len(fields) - 1 :]])
        out.append(Diagram(first, last, fen, _wrong(fen)))
    return out


def _wrong(fen: str) -> str:
    try:
        board = chess.Board(fen)
    except ValueError as error:
        return str(error).partition(":")[0]
    return "; ".join(wrong_with(board))
