"""The nouns. Every stage takes records of this file and returns records of this file.

The records the search makes by the thousand are frozen slotted dataclasses; the ones that are written to disk are
pydantic models, and their JSON Schema is the published one (`lesson schema`). Times are milliseconds (`_ms`) from
the start of the recording; word ranges are half open, `[first, last)`, and index `Talk.words`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

# --------------------------------------------------------------------------------------------------------------- read


@dataclass(frozen=True, slots=True)
class Word:
    """One word of the talk, with the characters the file gave it.

    `start_ms`/`end_ms` are None in a talk without times. `probability` is the recogniser's own, None where the file
    has none. `others` holds alternative words for the same slot, best first (CTM alternatives).
    """

    text: str
    start_ms: int | None = None
    end_ms: int | None = None
    probability: float | None = None
    others: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Cue:
    """A block of words the file kept together: a subtitle cue, a recogniser's segment, a paragraph."""

    first: int
    last: int
    start_ms: int | None = None
    end_ms: int | None = None
    voice: str | None = None


@dataclass(frozen=True, slots=True)
class Talk:
    """What was said, when. `flaws` are one-line notes on what the reader met and mended (times backwards, ...)."""

    name: str
    format: str
    words: tuple[Word, ...]
    cues: tuple[Cue, ...]
    flaws: tuple[str, ...] = ()

    @property
    def timed(self) -> bool:
        """Whether the words carry times."""
        return bool(self.words) and self.words[0].start_ms is not None

    @property
    def duration_ms(self) -> int:
        """End of the last word, 0 for a talk without times."""
        return max((w.end_ms or 0 for w in self.words), default=0)


# ------------------------------------------------------------------------------------------------------------- decode

Act = Literal["play", "retell", "return", "mention", "chapter", "point", "talk"]
Origin = Literal["said", "named", "inferred", "corrected"]


@dataclass(frozen=True, slots=True)
class Rival:
    """Another reading of the same words: `uci` and `san` may be empty for "not a move"; `confidence` is 0..1."""

    uci: str
    san: str
    confidence: float


@dataclass(frozen=True, slots=True)
class Node:
    """A position in the told tree. `parent` is -1 at a chapter's start; ids index `Decoded.nodes`."""

    id: int
    chapter: int
    parent: int
    uci: str
    san: str
    fen: str


@dataclass(frozen=True, slots=True)
class Event:
    """What one stretch of words did. Events are in the order told and do not overlap, except that several moves
    spoken in one breath ("takes, takes") share their word range, and an unspoken move has an empty range.

    `node` is where the cursor stands afterwards; for `play` it is the new node, for a mention the node whose position
    is talked about. `uci`/`san` are the move played, retold or mentioned ("" when no single move is meant).
    `lead` is the first word of the clause that belongs to the event ("if he goes" before "h6"). `confidence` is that
    the node is right, `step` that this step is, if what came before is; None: the same.
    """

    act: Act
    first: int
    last: int
    node: int
    uci: str = ""
    san: str = ""
    origin: Origin = "said"
    confidence: float = 1.0
    rivals: tuple[Rival, ...] = ()
    reason: str = ""
    lead: int | None = None
    step: float | None = None


@dataclass(frozen=True, slots=True)
class Fact:
    """What a stretch of words is known to mean, because somebody who was there said so; the decoder never overrules it.

    The words are [first, last) of the talk. `means`: "move" (the move `san`, SAN or UCI, is played or retold; where it
    attaches is left to the decoder), "mention" or "talk" (nothing is played), "return" (the talk goes on from the
    position after the UCI moves `path` in chapter `chapter`), "chapter" (a new start position, `fen`).
    """

    first: int
    last: int
    means: Literal["move", "mention", "talk", "return", "chapter"]
    san: str = ""
    path: tuple[str, ...] = ()
    chapter: int = 0
    fen: str = ""


Sides = Mapping[str, Literal["w", "b"]]
"""For "i", "we", "he", "she" or "you" the side that is spoken for."""


@dataclass(frozen=True, slots=True)
class Decoded:
    """The decoder's answer: the tree and what each stretch of words did to it.

    `main` lists, for nodes where another than the first child is the main line, parent id -> child id.
    `titles` holds one title per chapter.
    """

    nodes: tuple[Node, ...]
    events: tuple[Event, ...]
    main: dict[int, int] = field(default_factory=dict)
    titles: tuple[str, ...] = ()


# ---------------------------------------------------------------------------------------------------------- persisted


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


PlaceKind = Literal["move", "comment", "mention", "navigation", "position", "unresolved"]


class Place(_Record):
    """Where a word went. `ref` is the id of the record named by `kind`, or null."""

    kind: PlaceKind
    ref: str | None = None


class LessonWord(_Record):
    """One word of the talk and where it went."""

    text: str
    start_ms: int | None
    end_ms: int | None
    place: Place


class LessonMove(_Record):
    """A move of the tree. `words` is a half-open range of `Lesson.words`, empty for a move nobody said."""

    id: str
    parent: str | None
    uci: str
    san: str
    words: tuple[int, int]
    start_ms: int | None
    origin: Origin
    confidence: float = Field(ge=0, le=1)
    flagged: bool
    nags: tuple[int, ...] = ()


class Chapter(_Record):
    """A start position and the tree told from it; siblings stand in the order main line first, then as told."""

    id: str
    title: str
    start_fen: str
    start_ms: int | None
    moves: tuple[LessonMove, ...]


class Mention(_Record):
    """A move or plan spoken of but not played. `at` is the move (or null: the chapter's start) it was said after."""

    id: str
    chapter: str
    at: str | None
    words: tuple[int, int]
    text: str
    start_ms: int | None
    fen: str
    uci: str
    san: str


class Comment(_Record):
    """Words that stand at a move; `at` null means before the chapter's first move. `text` has misheard chess words
    corrected; the words as heard are `Lesson.words[first:last]`."""

    id: str
    chapter: str
    at: str | None
    words: tuple[int, int]
    text: str
    start_ms: int | None


class Candidate(_Record):
    """One possible reading of an unresolved phrase."""

    uci: str
    san: str
    confidence: float = Field(ge=0, le=1)


class Unresolved(_Record):
    """A question for the teacher: what these words mean could not be settled. `line` is the line so far in SAN, `at`
    its last move, `fen` the position after it. `move` is the flagged move asked about, null where none was written."""

    id: str
    chapter: str
    at: str | None
    words: tuple[int, int]
    text: str
    start_ms: int | None
    fen: str
    line: str
    reason: str
    candidates: tuple[Candidate, ...]
    move: str | None = None


class Finding(_Record):
    """Something a check found: a false claim, a flaw in the file, an impossible position. `fen` is the position it was
    judged in."""

    kind: str
    severity: Literal["error", "warning", "note"]
    message: str
    words: tuple[int, int] | None = None
    start_ms: int | None = None
    fen: str | None = None

    @property
    def doubts_speaker(self) -> bool:
        """Whether it is about the chess that was said, not about the file."""
        return self.words is not None and self.severity != "note"

    @property
    def on_analysis(self) -> bool:
        """Whether it is a note on the teacher's own analysis beside the talk."""
        return self.kind in ("unsaid", "beyond")


class Lesson(_Record):
    """The study: everything the outputs are written from."""

    version: Literal[1] = 1
    name: str
    format: str
    duration_ms: int
    words: tuple[LessonWord, ...]
    chapters: tuple[Chapter, ...]
    mentions: tuple[Mention, ...] = ()
    comments: tuple[Comment, ...] = ()
    unresolved: tuple[Unresolved, ...] = ()
    findings: tuple[Finding, ...] = ()
