"""Talk + Decoded -> Lesson: names the records, gives every word its place, cuts the talk into comments."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import chess

from lesson.model import (
    Candidate,
    Chapter,
    Comment,
    Decoded,
    Event,
    Finding,
    Lesson,
    LessonMove,
    LessonWord,
    Mention,
    Node,
    Place,
    PlaceKind,
    Talk,
    Unresolved,
)
from lesson.nags import nags_of
from lesson.settings import ASK_BELOW, FLAG_BELOW
from lesson.spoken import mended
from lesson.tree import Tree

_NOTHING_HEARD = Decoded((Node(0, 0, -1, "", "", chess.STARTING_FEN),), ())


def assemble(talk: Talk, decoded: Decoded) -> Lesson:
    """The lesson in which every word of `talk` has exactly one place in the tree of `decoded`.

    A move is flagged where the confidence in it and all before it is below `settings.FLAG_BELOW`; a question in
    `unresolved` stands where a doubt begins, at a step (move, retelling or return) below `settings.ASK_BELOW`.
    Pointing and words that fit nowhere (a `talk` event with a reason) are questions too.
    A comment is the whole of what was said from one move of the cursor to the next, the move's own words included;
    where nothing but these was said there is no comment. Words of moves are mended in comments (`lesson.spoken`)
    unless their step is in question; `Lesson.words` keeps them as heard. Verdicts become NAGs (`lesson.nags`).
    """
    decoded = decoded if decoded.nodes else _NOTHING_HEARD
    return _Assembly(_readable(talk), decoded).lesson()


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Words [first, last) said while the cursor stood at node `node`."""

    first: int
    last: int
    node: int


class _Assembly:
    """The records of one lesson, each kind made once and on demand."""

    def __init__(self, talk: Talk, decoded: Decoded) -> None:
        self.talk = talk
        self.decoded = decoded
        self.events = (*decoded.events, *_unaccounted(talk, decoded))
        self.tree = Tree(decoded)

    def lesson(self) -> Lesson:
        return Lesson(
            name=self.talk.name,
            format=self.talk.format,
            duration_ms=self.talk.duration_ms,
            words=tuple(
                _placed(word.text, word.start_ms, word.end_ms, place.kind, place.ref)
                for word, place in zip(self.talk.words, self.places, strict=True)
            ),
            chapters=tuple(self.chapters()),
            mentions=tuple(self.mentions.values()),
            comments=self.comments,
            unresolved=tuple(self.unresolved.values()),
            findings=tuple(_findings(self.talk)),
        )

    # ---------------------------------------------------------------------------------------------- events -> records

    @cached_property
    def mentions(self) -> dict[int, Mention]:
        """By the index of their event."""
        out: dict[int, Mention] = {}
        for index, event in enumerate(self.events):
            if event.act == "mention":
                out[index] = Mention(
                    id=f"n{len(out) + 1}",
                    chapter=self.tree.chapter_id(event.node),
                    at=self.tree.move_id(event.node),
                    words=(event.first, event.last),
                    text=self.text(event.first, event.last),
                    start_ms=self.time(event.first),
                    fen=self.tree.nodes[event.node].fen,
                    uci=event.uci,
                    san=event.san,
                )
        return out

    @cached_property
    def unresolved(self) -> dict[int, Unresolved]:
        """By the index of their event."""
        out: dict[int, Unresolved] = {}
        for index, event in enumerate(self.events):
            if not _is_question(event):
                continue
            played = event.act in ("play", "retell") and self.tree.nodes[event.node].parent >= 0
            at = self.tree.nodes[event.node].parent if played else event.node
            out[index] = Unresolved(
                id=f"u{len(out) + 1}",
                chapter=self.tree.chapter_id(at),
                at=self.tree.move_id(at),
                words=(event.first, event.last),
                text=_joined(word.text for word in self.talk.words[event.first : event.last]),
                start_ms=self.time(event.first),
                fen=self.tree.nodes[at].fen,
                line=self.tree.line(at),
                reason=event.reason or _reason(event),
                candidates=_candidates(event),
                move=self.tree.move_id(event.node) if event.act == "play" else None,
            )
        return out

    def chapters(self) -> Iterator[Chapter]:
        played: dict[int, Event] = {}
        for event in self.events:
            if event.act == "play":
                played.setdefault(event.node, event)
        first_words: dict[str, int] = {}
        for stretch in self.stretches:
            first_words.setdefault(self.tree.chapter_id(stretch.node), stretch.first)
        titles = dict(enumerate(self.decoded.titles))
        for start in self.tree.starts:
            chapter_id = self.tree.chapter_ids[start.id]
            yield Chapter(
                id=chapter_id,
                title=_clean(titles.get(start.chapter, "")),
                start_fen=start.fen,
                start_ms=self.time(first_words[chapter_id]) if chapter_id in first_words else None,
                moves=tuple(self.move(self.tree.nodes[node], played) for node in self.tree.below(start.id)),
            )

    @cached_property
    def nags(self) -> dict[int, tuple[int, ...]]:
        return nags_of([word.text for word in self.talk.words], self.events, self.tree)

    def move(self, node: Node, played: dict[int, Event]) -> LessonMove:
        event = played[node.id]
        confidence = _share(event.confidence)
        return LessonMove(
            id=self.tree.move_ids[node.id],
            parent=self.tree.move_id(node.parent),
            uci=node.uci,
            san=node.san,
            words=(event.first, event.last),
            start_ms=self.time(event.first),
            origin=event.origin,
            confidence=confidence,
            flagged=confidence < FLAG_BELOW,
            nags=self.nags.get(node.id, ()),
        )

    # -------------------------------------------------------------------------------------------------- words -> places

    @cached_property
    def stretches(self) -> list[_Stretch]:
        """The talk cut where the cursor moves; together they hold every word once, in order."""
        cursor = self.tree.starts[0].id
        first = 0
        out: list[_Stretch] = []
        for event, begin in zip(self.events, _begins(self.events), strict=True):
            if event.act == "mention" or (event.act in ("talk", "point") and event.node == cursor):
                continue
            out.append(_Stretch(first, begin, cursor))
            first, cursor = begin, event.node
        out.append(_Stretch(first, len(self.talk.words), cursor))
        return out

    @cached_property
    def claims(self) -> list[Place | None]:
        """The place of each word that belongs to an event; None for the words between events."""
        out: list[Place | None] = [None] * len(self.talk.words)
        for index, event in enumerate(self.events):
            place = self.claim(index, event)
            for word in range(event.first, event.last):
                out[word] = out[word] or place
        return out

    def claim(self, index: int, event: Event) -> Place | None:
        chapter, move = self.tree.chapter_id(event.node), self.tree.move_id(event.node)
        if event.act in ("play", "retell") and move:
            return _place("move", move)
        if event.act == "mention":
            return _place("mention", self.mentions[index].id)
        if event.act == "chapter" and self.tree.nodes[event.node].fen != chess.STARTING_FEN:
            return _place("position", chapter)
        if event.act in ("chapter", "return", "retell"):
            return _place("navigation", move or chapter)
        if index in self.unresolved:
            return _place("unresolved", self.unresolved[index].id)
        return None

    @cached_property
    def comments(self) -> tuple[Comment, ...]:
        """One for each stretch that says more than its move."""
        out: list[Comment] = []
        for stretch in self.stretches:
            places = self.claims[stretch.first : stretch.last]
            if all(place is not None and place.kind == "move" for place in places):
                continue
            out.append(
                Comment(
                    id=f"t{len(out) + 1}",
                    chapter=self.tree.chapter_id(stretch.node),
                    at=self.tree.move_id(stretch.node),
                    words=(stretch.first, stretch.last),
                    text=self.text(stretch.first, stretch.last),
                    start_ms=self.time(stretch.first),
                )
            )
        return tuple(out)

    @cached_property
    def places(self) -> list[Place]:
        """The place of every word: that of its event, else that of the comment it stands in."""
        out = list(self.claims)
        for comment in self.comments:
            place = _place("comment", comment.id)
            for word in range(*comment.words):
                out[word] = out[word] or place
        return [place for place in out if place is not None]

    # ------------------------------------------------------------------------------------------------- words -> texts

    @cached_property
    def mended(self) -> list[str]:
        """The words of the talk with the words of each sure move put right; "" for a swallowed one."""
        out = [word.text for word in self.talk.words]
        meanings: dict[tuple[int, int], dict[str, str]] = {}
        unsure: set[tuple[int, int]] = set()
        for event in self.events:
            span = (event.first, event.last)
            if event.uci and event.first < event.last and event.act in ("play", "retell", "mention"):
                meanings.setdefault(span, {})[event.uci] = event.san
                if _step(event) < ASK_BELOW:
                    unsure.add(span)
        for (first, last), moves in meanings.items():
            if (first, last) not in unsure:
                out[first:last] = mended(out[first:last], moves)
        return out

    def text(self, first: int, last: int) -> str:
        return _joined(self.mended[first:last])

    def time(self, word: int) -> int | None:
        """Start of a word; the end of the talk for what comes after its last word."""
        words = self.talk.words
        if word < len(words):
            return words[word].start_ms
        return words[-1].end_ms if words else None


# Words share their place; under review most words of a lesson are those of the one before.
@lru_cache(maxsize=4096)
def _place(kind: PlaceKind, ref: str | None) -> Place:
    return Place(kind=kind, ref=ref)


@lru_cache(maxsize=1 << 14)
def _placed(text: str, start_ms: int | None, end_ms: int | None, kind: PlaceKind, ref: str | None) -> LessonWord:
    return LessonWord(text=text, start_ms=start_ms, end_ms=end_ms, place=_place(kind, ref))


def _unaccounted(talk: Talk, decoded: Decoded) -> Iterator[Event]:
    """A move no event accounts for was not said and has no claim to be believed; it is asked about at the end."""
    played = {event.node for event in decoded.events if event.act == "play"}
    end = len(talk.words)
    for node in decoded.nodes:
        if node.parent >= 0 and node.id not in played:
            yield Event("play", end, end, node.id, node.uci, node.san, "inferred", 0.0)


def _begins(events: Sequence[Event]) -> list[int]:
    """Where each event's words begin, its lead-in clause included; never falls.

    Moves that share one range begin together. An unspoken move begins where the next event does, so that it does not
    part a lead-in clause from its move.
    """
    out: list[int] = []
    taken = 0
    previous: tuple[int, int] | None = None
    for event in events:
        span = (event.first, event.last)
        lead = event.first if event.lead is None else min(event.lead, event.first)
        out.append(out[-1] if span == previous else max(lead, taken))
        if event.first < event.last:
            taken = max(taken, event.last)
        previous = span
    for i in range(len(out) - 2, -1, -1):
        out[i] = min(out[i], out[i + 1])
    return out


def _is_question(event: Event) -> bool:
    if event.act == "point" or (event.act == "talk" and event.reason):
        return True
    return event.act in ("play", "retell", "return") and _step(event) < ASK_BELOW


def _step(event: Event) -> float:
    """How sure the step itself is; a question is asked where a doubt begins, not at every move that follows it."""
    return _share(event.confidence if event.step is None else event.step)


def _reason(event: Event) -> str:
    if event.act == "point":
        return "A move was pointed at, but not named."
    if event.act == "return":
        return "It is not sure that the talk goes back to this position."
    if event.origin == "inferred":
        return "Nobody said this move; what follows needs one here."
    if any(rival.uci or rival.san for rival in event.rivals):
        return "The words fit more than one move."
    return "The words were not heard clearly enough to be sure."


def _candidates(event: Event) -> tuple[Candidate, ...]:
    """The reading that was taken and its rivals, the likeliest first, each move once."""
    readings = [(event.uci, event.san, _step(event))] if event.uci else []
    readings += [(rival.uci, rival.san, rival.confidence) for rival in event.rivals]
    readings.sort(key=lambda reading: -_share(reading[2]))
    best: dict[str, Candidate] = {}
    for uci, san, confidence in readings:
        best.setdefault(uci, Candidate(uci=uci, san=san, confidence=_share(confidence)))
    return tuple(best.values())


def _findings(talk: Talk) -> Iterator[Finding]:
    for flaw in talk.flaws:
        yield Finding(kind="file", severity="note", message=_clean(flaw))
    for index, word in enumerate(talk.words):
        if "{" in word.text or "}" in word.text or "[%" in word.text:
            yield Finding(
                kind="characters",
                severity="note",
                message=f"{word.text!r}: a PGN comment cannot hold braces or '[%'; the PGN has parentheses instead",
                words=(index, index + 1),
                start_ms=word.start_ms,
            )


def _readable(talk: Talk) -> Talk:
    """`talk` without lone surrogates, which no file can hold; U+FFFD stands in their place."""
    words = tuple(word if word.text.isascii() else replace(word, text=_clean(word.text)) for word in talk.words)
    return replace(talk, name=_clean(talk.name), words=words)


def _clean(text: str) -> str:
    return "".join("�" if "\ud800" <= c <= "\udfff" else c for c in text)


def _joined(words: Iterator[str] | Sequence[str]) -> str:
    return " ".join(" ".join(words).split())


def _share(confidence: float) -> float:
    """`confidence` within 0..1; what is no number counts as 0."""
    return min(max(confidence, 0.0), 1.0) if confidence == confidence else 0.0
