"""The lesson as the page shows it: positions by name, and the talk cut into stretches by what they became."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import Literal

import chess

from lesson.model import Chapter, Comment, Finding, Lesson, LessonMove, Mention, Place, Unresolved
from lesson.settings import ASK_BELOW

Mark = Literal["plain", "played", "retold", "mentioned", "inferred", "unsure", "return", "position", "open", "settled"]


@dataclass(frozen=True, slots=True)
class Spot:
    """A position of the told tree. `id` is that of its last move, or of the chapter at a chapter's start (`move` None).

    `path` are the UCI moves from the chapter's start; `number` is the last move as printed, "6. Nf3" or "6... Be7";
    `below` counts the moves told after it.
    """

    id: str
    chapter: int
    parent: str | None
    move: LessonMove | None
    fen: str
    path: tuple[str, ...]
    number: str
    below: int = 0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Words [first, last) that became one thing; empty for a move nobody said.

    `spot` is where the board stands after them, `says` what they became in a few characters ("Nf3", "6. Nf3"),
    `question` the open question about them ("" for none); `answered` says that the teacher decided them.
    """

    first: int
    last: int
    text: str
    mark: Mark
    spot: str
    says: str
    question: str
    answered: bool
    start_ms: int | None
    end_ms: int | None

    @property
    def plain(self) -> bool:
        """Whether the words are mere talk, with nothing to choose."""
        return self.mark == "plain"


class Shown:
    """One lesson with what the page asks about it. `answered` are the word ranges the teacher has decided."""

    def __init__(self, lesson: Lesson, answered: Iterable[tuple[int, int]] = ()) -> None:
        self.lesson = lesson
        self.answered = frozenset(answered)
        self.questions = {question.id: question for question in lesson.unresolved}

    # ------------------------------------------------------------------------------------------------------ positions

    @cached_property
    def spots(self) -> dict[str, Spot]:
        """Every position by its id, chapter by chapter in the order of the tree."""
        out: dict[str, Spot] = {}
        for number, chapter in enumerate(self.lesson.chapters):
            out |= _spots(number, chapter)
        return out

    @cached_property
    def children(self) -> dict[str, list[str]]:
        """The positions after each, main line first."""
        out: dict[str, list[str]] = {}
        for spot in self.spots.values():
            if spot.parent is not None:
                out.setdefault(spot.parent, []).append(spot.id)
        return out

    def spot(self, at: str | None, chapter: str) -> Spot:
        """The position after the move `at`, or the start of `chapter` for None."""
        return self.spots[at or chapter]

    @property
    def doubts(self) -> list[Finding]:
        """What was said that the board, or an engine, contradicts."""
        return [finding for finding in self.lesson.findings if finding.doubts_speaker]

    @property
    def notes(self) -> list[tuple[Finding, str | None]]:
        """The notes on the teacher's own analysis, each with the position it is about, where one was told."""
        there = {_placed(spot.fen): spot.id for spot in reversed(self.spots.values())}
        return [(f, there.get(_placed(f.fen or ""))) for f in self.lesson.findings if f.on_analysis]

    def line(self, spot: str | None) -> Iterator[Spot]:
        """The positions from the chapter's first move to `spot`, both included."""
        back: list[Spot] = []
        while spot is not None and self.spots[spot].move is not None:
            back.append(self.spots[spot])
            spot = self.spots[spot].parent
        return reversed(back)

    def with_answered(self, words: tuple[int, int]) -> Shown:
        """The same lesson with one more range of words decided."""
        shown = Shown(self.lesson, self.answered | {words})
        shown.spots, shown.children = self.spots, self.children
        return shown

    # ----------------------------------------------------------------------------------------------------- the talk

    @cached_property
    def stretches(self) -> tuple[Stretch, ...]:
        """The whole talk in order; moves nobody said stand where the words that need them begin."""
        return tuple(_stretches(self))

    def stretch_at(self, word: int) -> Stretch | None:
        """The stretch that holds a word."""
        return next((s for s in self.stretches if s.first <= word < s.last), None)

    def text(self, first: int, last: int) -> str:
        """Words of the talk as they stand."""
        return " ".join(word.text for word in self.lesson.words[first:last])

    def times(self, first: int, last: int) -> tuple[int | None, int | None]:
        """When words [first, last) begin and end; for no words the moment at which they would stand."""
        words = self.lesson.words
        if first < last:
            return words[first].start_ms, words[last - 1].end_ms
        start = words[first].start_ms if first < len(words) else self.lesson.duration_ms or None
        return start, start


def _placed(fen: str) -> str:
    """A position without its counters, which differ where it was reached otherwise."""
    return " ".join(fen.split()[:4])


def _spots(number: int, chapter: Chapter) -> dict[str, Spot]:
    below: dict[str | None, int] = {}
    for move in reversed(chapter.moves):
        below[move.parent] = below.get(move.parent, 0) + below.get(move.id, 0) + 1
    start = Spot(chapter.id, number, None, None, chapter.start_fen, (), "", below.get(None, 0))
    out = {chapter.id: start}
    for move in chapter.moves:
        parent = out[move.parent or chapter.id]
        when, fen = _after(parent.fen, move.uci)
        label, path = f"{when} {move.san}", (*parent.path, move.uci)
        out[move.id] = Spot(move.id, number, parent.id, move, fen, path, label, below.get(move.id, 0))
    return out


@lru_cache(maxsize=8192)  # two lessons of an hour: after an answer most positions are those of before
def _after(fen: str, uci: str) -> tuple[str, str]:
    """The number of a move as print has it, and the position after it."""
    board = chess.Board(fen)
    number = f"{board.fullmove_number}{'.' if board.turn else '...'}"
    board.push_uci(uci)
    return number, board.fen()


def _stretches(shown: Shown) -> Iterator[Stretch]:
    lesson = shown.lesson
    records: dict[str, Comment | Mention] = {comment.id: comment for comment in lesson.comments}
    records.update((mention.id, mention) for mention in lesson.mentions)
    by_range: dict[tuple[int, int], list[LessonMove]] = {}
    unsaid: dict[int, list[LessonMove]] = {}
    for chapter in lesson.chapters:
        for move in chapter.moves:
            if move.words[0] < move.words[1]:
                by_range.setdefault(move.words, []).append(move)
            else:
                unsaid.setdefault(move.words[0], []).append(move)
    open_at: dict[tuple[int, int], Unresolved] = {}
    for question in lesson.unresolved:
        open_at.setdefault(question.words, question)
    asked = {question.move: question for question in lesson.unresolved if question.move}
    cursor = lesson.chapters[0].id if lesson.chapters else ""
    for first, last, place in _runs(shown, by_range):
        for move in unsaid.pop(first, ()):
            asks = asked[move.id].id if move.id in asked else ""
            yield _stretch(shown, first, first, "inferred", move.id, move.san, asks)
        mark, cursor, says = _meaning(shown, place, (first, last), by_range, records, cursor)
        asking = open_at.get((first, last))
        if (first, last) in shown.answered and mark == "plain":
            mark = "settled"
        elif asking is not None:
            mark = "unsure" if mark in ("played", "unsure") else "open"
        yield _stretch(shown, first, last, mark, cursor, says, asking.id if asking else "")
    for moves in unsaid.values():
        for move in moves:
            end = len(lesson.words)
            asks = asked[move.id].id if move.id in asked else ""
            yield _stretch(shown, end, end, "inferred", move.id, move.san, asks)


def _stretch(shown: Shown, first: int, last: int, mark: Mark, spot: str, says: str, question: str) -> Stretch:
    start, end = shown.times(first, last)
    answered = first < last and (first, last) in shown.answered
    return Stretch(first, last, shown.text(first, last), mark, spot, says, question, answered, start, end)


def _runs(
    shown: Shown, by_range: Mapping[tuple[int, int], Sequence[LessonMove]]
) -> Iterator[tuple[int, int, Place | None]]:
    """The talk cut where the place of the words changes and at the ends of every range that means something."""
    words = shown.lesson.words
    cuts = {0, len(words)}
    ranges = [*by_range, *(m.words for m in shown.lesson.mentions), *(q.words for q in shown.lesson.unresolved)]
    for first, last in (*ranges, *shown.answered):
        cuts |= {first, last}
    places = [word.place for word in words]
    cuts.update(i for i, (a, b) in enumerate(pairwise(places), 1) if a is not b and a != b)
    ordered = sorted(cut for cut in cuts if 0 <= cut <= len(words))
    for first, last in pairwise(ordered):
        yield first, last, words[first].place
    if not words:
        yield 0, 0, None


def _meaning(
    shown: Shown,
    place: Place | None,
    span: tuple[int, int],
    by_range: Mapping[tuple[int, int], Sequence[LessonMove]],
    records: Mapping[str, Comment | Mention],
    cursor: str,
) -> tuple[Mark, str, str]:
    """(mark, where the board stands afterwards, what it says) of the words `span`."""
    ref = place.ref if place else None
    if place is None or ref is None:
        return "plain", cursor, ""
    if place.kind == "move":
        moves = by_range.get(span, ())
        if not moves:
            return "retold", ref, _san(shown, ref)
        mark: Mark = "unsure" if any(move.confidence < ASK_BELOW for move in moves) else "played"
        return mark, moves[-1].id, " ".join(move.san for move in moves)
    if place.kind == "navigation":
        return "return", ref, shown.spots[ref].number or "start"
    if place.kind == "position":
        return "position", ref, ""
    record = records.get(ref)
    if isinstance(record, Mention):
        return "mentioned", record.at or record.chapter, record.san
    if place.kind == "unresolved":
        question = shown.questions[ref]
        return "open", question.at or question.chapter, ""
    return "plain", (record.at or record.chapter) if record else cursor, ""


def _san(shown: Shown, spot: str) -> str:
    move = shown.spots[spot].move
    return move.san if move else ""
