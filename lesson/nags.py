"""Verdict words -> NAGs: which move, or which position, each verdict is about.

Cautious: words that could be about something else give no number; they stand in the comment all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from lesson.hear.tokens import sentences as sentences_of
from lesson.hear.verdicts import Verdict, find_verdicts
from lesson.model import Event
from lesson.settings import ASK_BELOW
from lesson.tree import Tree

# A verdict set behind its move, "rook a2 came first, a dubious move", may have so many words between.
_BESIDE = 2
# A pronoun takes up a move of its own sentence or the one before; a verdict on the position may come a sentence later.
# Words count beside sentences because captions have no stops.
_THAT_WORDS, _THAT_SENTENCES = 10, 1
_LINE_WORDS, _LINE_SENTENCES = 24, 2


def nags_of(words: Sequence[str], events: Sequence[Event], tree: Tree) -> dict[int, tuple[int, ...]]:
    """Node id -> its numbers of the PGN standard, ascending; nodes without one are left out.

    Of one family (verdicts on the move, on who is better, initiative, ...) a move has at most one number: the last
    said at one visit stands, and visits that contradict each other leave none. An unsure move carries none.
    """
    said: dict[tuple[int, int], dict[int, int]] = {}
    for verdict, place in placed_verdicts(words, events, tree):
        said.setdefault((place.node, _family(verdict.nag)), {})[place.visit] = verdict.nag
    out: dict[int, list[int]] = {}
    for (node, _), visits in said.items():
        numbers = [visits[visit] for visit in sorted(visits)]
        if len({_leaning(nag) for nag in numbers}) == 1:
            out.setdefault(node, []).append(numbers[-1])
    return {node: tuple(sorted(numbers)) for node, numbers in out.items()}


@dataclass(frozen=True, slots=True)
class Place:
    """The node a verdict is about, and the event that last went there."""

    node: int
    visit: int


def placed_verdicts(words: Sequence[str], events: Sequence[Event], tree: Tree) -> Iterator[tuple[Verdict, Place]]:
    """Each verdict that is about a move or a position beyond doubt, in the order said, and what it is about."""
    verdicts = _verdicts(tuple(words))
    if not verdicts:
        return
    sentences = sentences_of(tuple(words))
    unsure = {e.node for e in events if e.act == "play" and not e.confidence >= ASK_BELOW}
    for verdict in verdicts:
        visit = _following(verdict, events) if verdict.target == "after" else _preceding(verdict, events)
        if visit is None:
            continue
        event = events[visit]
        if tree.move_id(event.node) is None or event.node in unsure or not event.confidence >= ASK_BELOW:
            continue
        if _is_meant(verdict, event, words, sentences) and (
            verdict.target != "line" or not _continued(event.node, events[:visit], tree)
        ):
            yield verdict, Place(event.node, visit)


def _is_meant(verdict: Verdict, event: Event, words: Sequence[str], sentences: Sequence[int]) -> bool:
    """Whether the verdict, by its wording and its distance, is about what the event next to it told."""
    told = event.act in ("play", "retell") and bool(event.uci) and event.first < event.last
    if verdict.target == "after":
        begin = event.first if event.lead is None else min(event.lead, event.first)
        return told and verdict.given is None and begin <= verdict.last
    if verdict.given is not None and event.first <= verdict.given:
        return False
    gap = max(0, verdict.first - event.last)
    apart = sentences[verdict.first] - sentences[max(event.first, event.last - 1)]
    match verdict.target:
        case "before":
            parted = words[verdict.first - 1][-1:] in ",-\u2013\u2014)"
            return told and apart == 0 and gap <= (_BESIDE if parted else 0)
        case "that":
            return told and apart <= _THAT_SENTENCES and gap <= _THAT_WORDS
        case "line":
            return told and apart <= _LINE_SENTENCES and gap <= _LINE_WORDS
        case _:
            here = told or (event.act == "return" and event.first < event.last)
            return here and apart <= _LINE_SENTENCES and gap <= _LINE_WORDS


def _preceding(verdict: Verdict, events: Sequence[Event]) -> int | None:
    """The last event that begins before the verdict; one that says nothing of moves is passed over."""
    before = [i for i, event in enumerate(events) if event.first < verdict.first and not _idle(event)]
    return before[-1] if before else None


def _following(verdict: Verdict, events: Sequence[Event]) -> int | None:
    return next((i for i, event in enumerate(events) if event.first >= verdict.last and not _idle(event)), None)


def _idle(event: Event) -> bool:
    return event.act == "talk" and not event.reason


def _continued(node: int, before: Sequence[Event], tree: Tree) -> bool:
    """Whether a move after `node` was told already: then the line may have gone on in the speaker's mind."""
    children = set(tree.children.get(node, ()))
    return any(event.act == "play" and event.node in children for event in before)


# Under review the same words are assembled again after every answer.
@lru_cache(maxsize=2)
def _verdicts(words: tuple[str, ...]) -> tuple[Verdict, ...]:
    return tuple(find_verdicts(words))


def _family(nag: int) -> int:
    """The first number of the standard's group: the move, who is better, zugzwang, initiative, attack, ..."""
    groups = ((1, 9), (10, 21), (22, 23), (36, 39), (40, 41), (42, 47), (130, 135))
    return next(first for first, last in groups if first <= nag <= last)


def _leaning(nag: int) -> str:
    """What two numbers of a family must share not to contradict each other."""
    if nag < 10:
        return "bad" if nag in (2, 4, 6, 9) else "good"
    if nag < 14:
        return "even"
    return "black" if nag % 2 else "white"
