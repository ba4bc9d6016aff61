"""The words of the talk and the moves of the tree as HTML. An hour has thousands of them, and a template would take a
tenth of a second to fill in what takes a hundredth here. Every text is escaped; the rest are numbers and names of ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from markupsafe import Markup, escape

from lesson.review.shown import Mark, Spot, Stretch

# What a screen reader says of marked words, and what stands behind them; {} is what they became.
_MARKS: dict[Mark, tuple[str, str]] = {
    "played": ("played", "{}"),
    "unsure": ("played, not sure", "{}~"),
    "retold": ("told again", "({})"),
    "mentioned": ("only mentioned", "{}"),
    "inferred": ("nobody said this", "[{}]"),
    "return": ("goes back", "↩ {}"),
    "position": ("new position", "§"),
    "open": ("not understood", "?"),
    "settled": ("not a move, you said", ""),
}


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a stretch that lies in one paragraph; `focus`: the keyboard comes to it first."""

    stretch: Stretch
    first: int
    last: int
    text: str
    changed: bool
    focus: bool = False


@dataclass(slots=True)
class Paragraph:
    """Some sentences of the talk; `waits`: they are still being read."""

    when: str
    waits: bool = False
    pieces: list[Piece] = field(default_factory=list)
    words: int = 0

    @property
    def html(self) -> Markup:
        """The words, each stretch an element."""
        return Markup("".join(map(_span, self.pieces)))


def _span(piece: Piece) -> str:
    s, text, order = piece.stretch, escape(piece.text), 0 if piece.focus else -1
    times = "" if s.start_ms is None else f' data-start="{s.start_ms}" data-end="{s.end_ms}"'
    if s.mark == "plain":
        words = f'data-first="{piece.first}" data-last="{piece.last}" data-spot="{s.spot}"'
        return f'<span class="talk" {words}{times}>{text}</span> '
    mark, says = _MARKS[s.mark]
    answered, changed = (" answered", ", answered") if s.answered else ("", ""), ("", "")
    if piece.changed:
        changed = (" changed", ", changed")
    return (
        f'<span role="button" class="st {s.mark}{answered[0]}{changed[0]}" id="s{s.first}-{s.last}-{s.spot}"\n'
        f' data-first="{s.first}" data-last="{s.last}" data-spot="{s.spot}" tabindex="{order}"{times}>'
        f'{text}<span class="vh"> ({mark}{answered[1]}{changed[1]}): </span>&#8288;'
        f'<b class="says">{says.format(escape(s.says))}{"✓" if s.answered else ""}</b></span> '
    )


@dataclass(frozen=True, slots=True)
class Step:
    """A move as it stands in a row of the tree; `label` has the number where print has it."""

    spot: Spot
    label: str
    words: tuple[int, int]
    said: bool
    flagged: bool


@dataclass(frozen=True, slots=True)
class Row:
    """Moves printed in one go, at a depth of sidelines."""

    depth: int
    steps: Sequence[Step]

    @property
    def html(self) -> Markup:
        """The moves, each a button."""
        return Markup("".join(map(_button, self.steps)))


def _button(step: Step) -> str:
    (first, last), spot = step.words, step.spot.id
    look, more = "mv", ""
    if step.flagged:
        look, more = "mv flagged", '<span aria-hidden="true">~</span><span class="vh">, not sure</span>'
    if not step.said:
        look, more = f"{look} unsaid", f'{more}<span class="vh">, nobody said it</span>'
    return (
        f'<button type="button" class="{look}" id="t{spot}" data-spot="{spot}"\n'
        f' data-first="{first}" data-last="{last}" tabindex="-1">{escape(step.label)}{more}</button> '
    )
