"""What a strict reading of a script finds, as a record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lesson.errors import UsageError

Severity = Literal["error", "warning", "note"]

KINDS: dict[str, tuple[Severity, str]] = {
    "illegal": ("error", "a move that cannot be played in the position the script has reached"),
    "ambiguous": ("error", "words that fit more than one legal move"),
    "skipped": ("error", "a move is missing before this one"),
    "return": ("error", "the script goes back to a position that was never there"),
    "position": ("error", "a dictated position that cannot be"),
    "contradiction": ("error", "two different recommendations in the same position"),
    "claim": ("error", "something said of the position that is not so"),
    "verdict": ("warning", "who is said to stand better does not fit the evaluation of the engine"),
    "blunder": ("warning", "advice that loses by the evaluation of the engine"),
    "engine": ("warning", "the engine has failed and is not asked any more"),
    "no-verdict": ("note", "a line ends and nobody says who stands better"),
}
"""Kind -> severity and meaning, in the order of the manual."""

ENGINE_KINDS = frozenset(("verdict", "blunder", "engine"))
"""Those that only an engine can find."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a script, at words [first, last). `why` narrows an illegal move ("pinned"), `fen` is the position,
    `nearest` the legal moves most like the words, in SAN."""

    kind: str
    message: str
    first: int
    last: int
    fen: str = ""
    why: str = ""
    nearest: tuple[str, ...] = ()

    @property
    def severity(self) -> Severity:
        """As KINDS says."""
        return KINDS[self.kind][0]


def chosen(only: str | None, skip: str | None) -> tuple[str, ...]:
    """The kinds to report: those of `only` (all where None), without those of `skip`; both have commas between.

    Raises: UsageError for a kind there is not.
    """
    wanted, unwanted = (
        None if names is None else [name.strip() for name in names.split(",") if name.strip()] for names in (only, skip)
    )
    for name in (*(wanted or ()), *(unwanted or ())):
        if name not in KINDS:
            raise UsageError(f"{name}: no such kind of fault; there are {', '.join(KINDS)}")
    return tuple(kind for kind in KINDS if (wanted is None or kind in wanted) and kind not in (unwanted or ()))
