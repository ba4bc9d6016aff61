"""Men named by the side of the board they began on: "the king's pawn", "the queen's knight", "the bishop's pawn".

The old descriptive wording. A pawn so named stands on a known file (or one of two); of two knights, rooks or bishops
the wording says which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lesson.hear.sounds import Costs
from lesson.hear.tokens import Token

_WINGS = {"king": "k", "king's": "k", "kings": "k", "queen": "q", "queen's": "q", "queens": "q"}
_OWNERS = {"bishop's": "B", "knight's": "N", "rook's": "R", "night's": "N", "bishop": "B", "knight": "N", "rook": "R"}
# The file a man begins on is the name of the pawn before it.
_FILES = {
    ("k", ""): "e", ("q", ""): "d", ("k", "B"): "f", ("q", "B"): "c", ("k", "N"): "g", ("q", "N"): "b",
    ("k", "R"): "h", ("q", "R"): "a", ("", "B"): "cf", ("", "N"): "bg", ("", "R"): "ah",
}  # fmt: skip
_NOT_THERE = 9.0  # -ln p of another file than the one named


@dataclass(frozen=True, slots=True)
class Named:
    """`first` is the token the naming starts at, `wing` is "k" or "q" ("" for a man that needs none: a pawn), `ofiles`
    the costs of a pawn's file of origin."""

    first: int
    wing: str = ""
    ofiles: Costs | None = None


def named_by_wing(tokens: Sequence[Token], i: int, piece: str) -> Named | None:
    """How the man at token `i` (of kind `piece`, a letter) is named by the tokens before it, None if he is not."""
    before = _text(tokens, i - 1)
    wing = _WINGS.get(before, "")
    if piece in ("N", "B", "R"):
        return Named(i - 1, wing) if wing else None
    if piece != "P":
        return None
    if wing:
        return Named(i - 1, ofiles=_costs(_FILES[wing, ""]))
    owner = _OWNERS.get(before, "")
    wing = _WINGS.get(_text(tokens, i - 2), "")
    if not owner or not (wing or before.endswith("'s")):
        return None
    return Named(i - 2 if wing else i - 1, ofiles=_costs(_FILES[wing, owner]))


def names_another(tokens: Sequence[Token], i: int, following: str) -> bool:
    """Whether the man at token `i` only says which man the next token, of kind `following`, is."""
    if i + 1 >= len(tokens) or tokens[i].stop:
        return False
    named = named_by_wing(tokens, i + 1, following)
    return named is not None and named.first <= i


def _text(tokens: Sequence[Token], i: int) -> str:
    return tokens[i].text if i >= 0 and not tokens[i].stop else ""


def _costs(files: str) -> Costs:
    return tuple(0.0 if letter in files else _NOT_THERE for letter in "abcdefgh")
