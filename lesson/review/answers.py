"""What the page sends -> corrections."""

from __future__ import annotations

from itertools import pairwise
from typing import Any, Literal

import chess
from pydantic import BaseModel, ConfigDict, Field

from lesson.corrections import Correction, Corrections, Kind, correction_at
from lesson.errors import UsageError
from lesson.review.questions import card
from lesson.review.shown import Shown, Spot
from lesson.review.typed import back_to, is_no_move, read_move, read_return

LONGEST_ANSWER = 400
"""Characters of one answer; a position in FEN takes up to 90, a title rarely as much."""


class Change(BaseModel):
    """Any change: `version` is that of the corrections the page was looking at."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    version: int


class Answer(Change):
    """What the words [first, last) of lesson number `shown` mean.

    `value`: for "move" SAN or UCI, for "typed" anything the answer line takes, for "chapter" a FEN, for "word" what the
    words are to be read as, for "title" the title, for "side" "w" or "b". `at` names a position: the one a move is
    played in, or gone back to, or of the chapter that is renamed; "" for the one the words were said in. `person`
    speaks for the side.
    """

    shown: int
    words: tuple[int, int]
    means: Literal["move", "mention", "talk", "return", "chapter", "word", "title", "side", "typed"]
    value: str = Field("", max_length=LONGEST_ANSWER)
    at: str = Field("", max_length=20)
    person: str = Field("", max_length=LONGEST_ANSWER)


def with_answer(corrections: Corrections, answer: Answer, shown: Shown) -> Corrections:
    """`corrections` with the answer added. Raises UsageError where it makes no sense for these words."""
    first, last = answer.words
    if not 0 <= first <= last <= len(shown.lesson.words):
        raise UsageError("the talk has no such words; reload the page")
    here = card(shown, first, last).before
    spot = shown.spots.get(answer.at) if answer.at else here
    if spot is None:
        raise UsageError("there is no such position; reload the page")
    value = " ".join(answer.value.split())
    maker = _Maker(corrections, shown, first, last)
    match answer.means:
        case "move":
            return maker.move(value, spot, here)
        case "typed":
            return maker.typed(value, spot, here)
        case "return":
            return maker.returns(spot)
        case "mention":
            san = chess.Board(here.fen).san(read_move(value, here.fen)) if value else ""
            return maker.add("mention", move=san.rstrip("+#"))
        case "talk":
            return maker.add("talk")
        case "chapter":
            return maker.add("chapter", fen=_position(value))
        case "word":
            return maker.word(value)
        case "title":
            return maker.whole("title", chapter=spot.chapter, becomes=_some(value, "a title"))
        case "side":
            if value not in ("w", "b"):
                raise UsageError("say whether White's or Black's moves are meant")
            return maker.whole("side", side=value, person=_some(answer.person, "a name"))


class _Maker:
    """Adds corrections anchored to the words [first, last) of a lesson."""

    def __init__(self, corrections: Corrections, shown: Shown, first: int, last: int) -> None:
        self.corrections, self.shown, self.first, self.last = corrections, shown, first, last

    def made(self, kind: Kind, id: str, **what: Any) -> Correction:
        return correction_at(self.shown.lesson.words, self.first, self.last, kind, id, **what)

    def add(self, kind: Kind, **what: Any) -> Corrections:
        if self.first == self.last and kind == "talk":
            raise UsageError("nothing was said here; answer with a move, or correct the words after it")
        return self.corrections.plus(self.made(kind, self.corrections.fresh_id(), **what))

    def whole(self, kind: Kind, **what: Any) -> Corrections:
        """A correction that is not about certain words."""
        return self.corrections.plus(Correction(id=self.corrections.fresh_id(), kind=kind, **what))

    def move(self, value: str, spot: Spot, here: Spot) -> Corrections:
        """The move, after a return where the board was not where the words were said."""
        board = chess.Board(spot.fen)
        san = board.san(read_move(value, spot.fen)).rstrip("+#")
        if spot.id == here.id:
            number = int(self.corrections.fresh_id()[1:])
            sans = self.breath(here, san)
            return self.corrections.plus(*(self.made("move", f"c{number + i}", move=m) for i, m in enumerate(sans)))
        back = self.made("return", self.corrections.fresh_id(), path=spot.path, chapter=spot.chapter)
        fresh = self.corrections.plus(back).fresh_id()
        return self.corrections.plus(back, self.made("move", fresh, move=san))

    def breath(self, here: Spot, san: str) -> list[str]:
        """`san` with the other moves told in the same breath ("takes, takes"): they would be lost if the words meant
        one of them only. Those behind it are kept as far as they stay legal."""
        words = (self.first, self.last)
        told = [s for s in self.shown.spots.values() if s.move and s.move.words == words and self.first < self.last]
        chain = all(later.parent == earlier.id for earlier, later in pairwise(told))
        if not chain or here.id not in [spot.parent for spot in told]:
            return [san]
        board = chess.Board(self.shown.spots[told[0].parent or here.id].fen)
        out: list[str] = []
        for spot in told:
            try:
                move = board.parse_san(san if spot.parent == here.id else spot.number.split()[-1])
            except ValueError:
                break
            out.append(board.san(move).rstrip("+#"))
            board.push(move)
        return out

    def typed(self, value: str, spot: Spot, here: Spot) -> Corrections:
        target = back_to(value)
        if target is not None:
            return self.returns(read_return(target, self.shown, here.id, self.first))
        return self.add("talk") if is_no_move(value) else self.move(value, spot, here)

    def returns(self, spot: Spot) -> Corrections:
        return self.add("return", path=spot.path, chapter=spot.chapter)

    def word(self, value: str) -> Corrections:
        heard = self.shown.text(self.first, self.last).strip(".,;:!?")
        return self.whole("word", text=_some(heard, "the words that were misheard"), becomes=_some(value, "words"))


def _some(text: str, what: str) -> str:
    if not text.strip():
        raise UsageError(f"{what} is missing")
    return text.strip()


def _position(text: str) -> str:
    """A FEN, "" or "start" for the usual start position."""
    if text.lower() in ("", "start"):
        return chess.STARTING_FEN
    try:
        board = chess.Board(text)
    except ValueError:
        raise UsageError("that is no position in FEN; “start” stands for the usual one") from None
    if not board.is_valid():
        raise UsageError("no game can go on from that position")
    return board.fen()
