"""What an answer changed: two lessons of the same talk compared."""

from __future__ import annotations

from dataclasses import dataclass

from lesson.review.shown import Shown

NAMED = 4
"""Changed moves named in the message; the rest are counted."""


@dataclass(frozen=True, slots=True)
class Changes:
    """`spans` are the word ranges that mean something else now; `text` says it for eyes and ears, "" for nothing."""

    spans: frozenset[tuple[int, int]]
    text: str


def changes(old: Shown, new: Shown, questions: tuple[int, int], until: int | None = None) -> Changes:
    """The difference; `questions` are the numbers of open questions before and after. Where words from number `until`
    on are still being read, only what came before them is told, and nothing is called lost or settled yet."""
    came, went = _told(new), _told(old)
    here, there = _lines(new), _lines(old)
    end = len(new.lesson.words) + 1 if until is None else until
    spans = {span for span, means in came.items() if went.get(span) != means and span[0] < end}
    gained = [name for key, (name, word) in here.items() if key not in there and word < end]
    lost = [name for key, (name, _) in there.items() if key not in here and until is None]
    if until is not None:
        questions = (0, 0)
    parts = []
    if gained:
        parts.append(f"now in the study: {_named(gained)}")
    if lost:
        parts.append(f"taken out: {_named(lost)}")
    settled = questions[0] - questions[1]
    if settled > 1:
        parts.append(f"{settled} questions settled at once")
    elif settled < 0:
        parts.append(f"{_count(-settled, 'new question')}")
    if not parts and spans:
        parts.append(f"{_count(len(spans), 'phrase')} read differently")
    return Changes(frozenset(spans), _sentence("; ".join(parts)) if parts else "")


def _told(shown: Shown) -> dict[tuple[int, int], tuple[str, str, tuple[str, ...]]]:
    """What each stretch that is not mere talk became, and after which moves."""
    return {
        (s.first, s.last): ("played" if s.mark == "unsure" else s.mark, s.says, shown.spots[s.spot].path)
        for s in shown.stretches
        if not s.plain and s.mark != "settled" and s.spot in shown.spots
    }


def _lines(shown: Shown) -> dict[tuple[int, tuple[str, ...]], tuple[str, int]]:
    """Each told move as printed, and its first word, by chapter and path."""
    return {(s.chapter, s.path): (s.number, s.move.words[0]) for s in shown.spots.values() if s.move}


def _named(names: list[str]) -> str:
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(names[:NAMED]) + more


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _sentence(text: str) -> str:
    """`text` with a capital and a stop; the letters of moves stay as they are."""
    return f"{text[:1].upper()}{text[1:]}."
