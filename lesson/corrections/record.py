"""The records: one correction, and all corrections of a talk."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal, Self

import chess
from pydantic import BaseModel, ConfigDict, Field, model_validator

from lesson.align import spelled
from lesson.corrections.anchors import Anchor
from lesson.model import LessonWord, Word
from lesson.settings import ANCHOR_WORDS, SHOWN_CHARACTERS

Kind = Literal["move", "mention", "talk", "return", "chapter", "word", "title", "side"]
OF_WORDS = ("move", "mention", "talk", "return", "chapter")
"""The kinds that say what certain words of the talk mean; the others hold for the whole talk."""


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Correction(_Record):
    """One thing the teacher said.

    `move`: the words mean the move `move` (SAN or UCI); several for the same words were said in one breath, in the
    order of the file. `mention`: a move is only spoken of; `talk`: no move at all. `return`: the talk goes on from the
    position after the UCI moves `path` in chapter `chapter` (counted from 0). `chapter`: a new chapter starts from the
    position `fen`. `word`: the words `text` are to be read as `becomes`, everywhere. `title`: chapter `chapter` is
    called `becomes`. `side`: `person` ("we", a name) speaks for White ("w") or Black ("b").
    """

    id: str = Field(min_length=1, description="Short and unique in the file.")
    kind: Kind
    text: str = Field(default="", description='The words it is about, as they stood; "" for a place between two words.')
    start_ms: int | None = Field(default=None, ge=0, description="When they were said, in ms; null without times.")
    words: tuple[int, int] | None = Field(default=None, description="Their place at the time, [first, last): a hint.")
    before: str = Field(default="", description="Up to three words before them, to find them again.")
    after: str = Field(default="", description="Up to three words after them.")
    move: str = Field(default="", description="move, mention: SAN or UCI.")
    path: tuple[str, ...] = Field(default=(), description="return: UCI moves from the chapter's start.")
    chapter: int = Field(default=0, ge=0, description="return, title: number of the chapter, from 0.")
    fen: str = Field(default="", description="chapter: the position it starts from.")
    becomes: str = Field(default="", description="word: what the words are to be read as; title: the new title.")
    side: Literal["w", "b", ""] = ""
    person: str = Field(default="", description="side: who speaks for that side.")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        """A correction says what it has to say, in the notation it is to be said in."""
        needs = {"move": ("move",), "chapter": ("fen",), "word": ("text", "becomes"), "title": ("becomes",)}
        needs["side"] = ("side", "person")
        for name in needs.get(self.kind, ()):
            if not getattr(self, name).strip():
                raise ValueError(f"a correction of kind {self.kind} needs {name}")
        if self.move and not is_move(self.move):
            raise ValueError(f"{self.move[:SHOWN_CHARACTERS]!r} is no move in SAN or UCI")
        if any(not _is_uci(uci) for uci in self.path):
            raise ValueError("path holds something that is no UCI move")
        if self.fen and not _is_fen(self.fen):
            raise ValueError(f"{self.fen[:SHOWN_CHARACTERS]!r} is no position a game can go on from (FEN)")
        if self.words is not None and not 0 <= self.words[0] <= self.words[1]:
            raise ValueError("words is no range [first, last)")
        if self.kind in OF_WORDS and not self.text.strip() and self.start_ms is None and self.words is None:
            raise ValueError("nothing says which words are meant: text is missing")
        return self

    @property
    def anchor(self) -> Anchor:
        """Where the words are."""
        return Anchor(self.text, self.before, self.after, self.start_ms, self.words)


class Corrections(_Record):
    """All corrections of one talk, in the order made: where two disagree, the later one holds."""

    version: Literal[1] = 1
    corrections: tuple[Correction, ...] = ()

    @model_validator(mode="after")
    def _unique(self) -> Self:
        seen: set[str] = set()
        for correction in self.corrections:
            if correction.id in seen:
                raise ValueError(f"two corrections are called {correction.id[:SHOWN_CHARACTERS]!r}")
            seen.add(correction.id)
        return self

    def fresh_id(self) -> str:
        """An id no correction has: "c" and the number after the highest in use."""
        numbers = [int(c.id[1:]) for c in self.corrections if c.id[:1] == "c" and c.id[1:].isdecimal()]
        return f"c{max(numbers, default=0) + 1}"

    def plus(self, *new: Correction) -> Corrections:
        """With `new` added in place of what was said before about the same words, title, person or misheard word."""
        subjects = {_subject(correction) for correction in new}
        ids = {correction.id for correction in new}
        kept = [c for c in self.corrections if _subject(c) not in subjects and c.id not in ids]
        return Corrections(corrections=(*kept, *new))

    def without(self, *ids: str) -> Corrections:
        """Without the corrections of these ids."""
        return Corrections(corrections=tuple(c for c in self.corrections if c.id not in ids))


def correction_at(
    words: Sequence[Word] | Sequence[LessonWord], first: int, last: int, kind: Kind, id: str, **what: Any
) -> Correction:
    """A correction anchored to the words [first, last) of a talk or a lesson; an empty range is the place before word
    `first`. `what` are the fields that belong to the kind."""

    def text(a: int, b: int) -> str:
        joined = " ".join(word.text for word in words[max(0, a) : max(0, b)])
        return joined.encode("utf-8", "replace").decode("utf-8")  # a lone surrogate cannot be written to a file

    return Correction(
        id=id,
        kind=kind,
        text=text(first, last),
        start_ms=words[first].start_ms if first < len(words) else None,
        words=(first, last),
        before=text(first - ANCHOR_WORDS, first),
        after=text(last, last + ANCHOR_WORDS),
        **what,
    )


def described(correction: Correction) -> str:
    """A correction in a few words for a message: what was said, when, and what it was said to mean."""
    text = correction.text or f"between {correction.before!r} and {correction.after!r}"
    when = at_time(correction.start_ms)
    what = correction.move or correction.becomes
    quoted = f'"{text[:SHOWN_CHARACTERS]}"' if correction.text else text
    return f"{quoted}{when} ({correction.kind}{f' {what[:SHOWN_CHARACTERS]}' if what else ''}, {correction.id})"


def at_time(start_ms: int | None) -> str:
    """ " at m:ss" for a message, "" where no time is known."""
    if start_ms is None:
        return ""
    minutes, seconds = divmod(start_ms // 1000, 60)
    return f" at {minutes}:{seconds:02}"


def _subject(correction: Correction) -> tuple[object, ...]:
    """What a correction is about: a later one about the same replaces it."""
    if correction.kind == "title":
        return "title", correction.chapter
    if correction.kind == "word":
        return "word", spelled(correction.text)
    if correction.kind == "side":
        return "side", correction.person
    return "words", correction.text, correction.start_ms, correction.words


def is_move(text: str) -> bool:
    """Whether `text` is a move in SAN or UCI, legal or not."""
    castles = text.rstrip("+#") in ("O-O", "O-O-O")
    return castles or chess.SAN_REGEX.match(text) is not None or _is_uci(text)


def _is_uci(text: str) -> bool:
    try:
        return bool(chess.Move.from_uci(text))
    except ValueError:
        return False


def _is_fen(text: str) -> bool:
    try:
        return chess.Board(text).is_valid()
    except ValueError:
        return False
