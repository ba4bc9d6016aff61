"""Where a claim is judged, and what the board says to it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import chess

Truth = Literal["true", "false", "undecidable"]


@dataclass(frozen=True, slots=True)
class Scene:
    """A position of a told line: `board` after `move`, `before` without it (both None at a chapter's start), `line` the
    UCI moves from the initial position, None where the chapter starts elsewhere."""

    board: chess.Board
    before: chess.Board | None = None
    move: chess.Move | None = None
    line: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the board says to a claim. `evidence` is for a reader, `squares` are the men or squares it rests on, `line`
    the moves in SAN where moves prove it."""

    truth: Truth
    evidence: str = ""
    squares: tuple[str, ...] = ()
    line: tuple[str, ...] = ()


OPEN = Judgement("undecidable")


def yes(evidence: str, squares: Iterable[int] = (), line: Iterable[str] = ()) -> Judgement:
    """The claim is true, resting on these squares, or on moves (SAN)."""
    return Judgement("true", evidence, tuple(chess.square_name(s) for s in squares), tuple(line))


def no(evidence: str, squares: Iterable[int] = ()) -> Judgement:
    """The claim is false, resting on these squares."""
    return Judgement("false", evidence, tuple(chess.square_name(s) for s in squares))


def told(truth: bool, evidence: str, squares: Iterable[int] = ()) -> Judgement:
    """True or false, on the same evidence."""
    return yes(evidence, squares) if truth else no(evidence, squares)


def color(side: str) -> chess.Color | None:
    """The colour of "w" or "b", None for ""."""
    return {"w": chess.WHITE, "b": chess.BLACK}.get(side)


def colors(*sides: str) -> list[chess.Color]:
    """The one colour named, or both."""
    named = [found for side in sides if (found := color(side)) is not None]
    return named[:1] or [chess.WHITE, chess.BLACK]
