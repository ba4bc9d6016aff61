"""The open questions, the most valuable answer first, and the answers offered for any words of the talk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import chess

from lesson.model import Candidate, Unresolved
from lesson.review.shown import Shown, Spot, Stretch

OFFERED = 8
"""Moves offered for words, each on its own digit key; 9 is left for nothing and 0 for "not a move"."""

CONTEXT_WORDS = 14
"""Words of the talk shown before and after the words in question."""


@dataclass(frozen=True, slots=True)
class Offer:
    """An answer on a digit key: the move `uci`, `san` at the position `spot`, or with `means` "return" (and no move)
    that the talk goes on from `spot`. `says` is what the button reads; `chance` is 0..1, None where not known."""

    key: str
    uci: str
    san: str
    chance: float | None
    spot: str
    says: str
    means: Literal["move", "return"] = "move"


@dataclass(frozen=True, slots=True)
class Card:
    """What is asked, or can be said, about the words [first, last).

    `before` is the position the words were said in, `stands` what they became, `reason` why they are a question ("" for
    none); `line` the moves that led there, as printed.
    """

    first: int
    last: int
    text: str
    lead: str
    tail: str
    start_ms: int | None
    end_ms: int | None
    before: Spot
    stands: str
    reason: str
    question: str
    offers: tuple[Offer, ...]
    line: tuple[Spot, ...]


def worth(shown: Shown, question: Unresolved) -> float:
    """What an answer is worth: the chance that the study is wrong here, times the moves that hang on it.

    These are the question's own and, in its place of the tree, those told later. That a wrong move makes all that
    follows it wrong is the nature of the tree; that the chances are what they say is checked where they are learned.
    """
    sure = max((c.confidence for c in question.candidates), default=0.0)
    spot = shown.spot(question.move or question.at, question.chapter)
    hang = spot.below
    if question.move is None:
        later = [s for s in shown.children.get(spot.id, ()) if _told_after(shown.spots[s], question.words[1])]
        hang = sum(1 + shown.spots[s].below for s in later)
    return (1.0 - min(sure, 1.0)) * (1 + hang)


def _told_after(spot: Spot, word: int) -> bool:
    return spot.move is not None and spot.move.words[0] >= word


def ranked(shown: Shown) -> list[Unresolved]:
    """The questions nobody has answered, the most valuable first; equals in the order told."""
    still = [q for q in shown.lesson.unresolved if q.words not in shown.answered]
    return sorted(still, key=lambda q: (-worth(shown, q), q.words))


def card(shown: Shown, first: int, last: int) -> Card:
    """What can be said about the words [first, last)."""
    question = next((q for q in ranked(shown) if q.words == (first, last)), None)
    stretch = next((s for s in shown.stretches if (s.first, s.last) == (first, last)), None)
    near = stretch or next((s for s in shown.stretches if s.first < last and first < s.last and not s.plain), None)
    before = _before(shown, first, last, near, question)
    start, end = shown.times(first, last)
    return Card(
        first,
        last,
        shown.text(first, last),
        shown.text(max(0, first - CONTEXT_WORDS), first),
        shown.text(last, last + CONTEXT_WORDS),
        start,
        end,
        before,
        _stands(stretch, first < last),
        question.reason if question else "",
        question.id if question else "",
        _offers(shown, before, question, near),
        tuple(shown.line(before.id)),
    )


def _before(shown: Shown, first: int, last: int, near: Stretch | None, question: Unresolved | None) -> Spot:
    """The position the words were said in; `near` is what they, or words among them, became."""
    if question is not None:
        return shown.spot(question.at, question.chapter)
    if near is None:
        holding = shown.stretch_at(first) or (shown.stretches[-1] if shown.stretches else None)
        return shown.spots[holding.spot] if holding else next(iter(shown.spots.values()))
    spot = shown.spots[near.spot]
    if near.mark in ("played", "unsure", "inferred") and near.first < near.last:
        told = [s for s in shown.spots.values() if s.move and s.move.words == (near.first, near.last)]
        spot = told[0] if told else spot
    if near.mark in ("played", "unsure", "inferred", "retold"):
        return shown.spots[spot.parent or spot.id]
    return spot


def _offers(shown: Shown, before: Spot, question: Unresolved | None, stretch: Stretch | None) -> tuple[Offer, ...]:
    """The likeliest answers; for a doubtful return, whether the talk goes back or on."""
    if question is not None and not question.candidates and _goes_back(shown, question):
        here = _offer_return(1, before, "back to")
        held = _cursor(shown, question.words[0])
        return (here,) if held is None or held.id == before.id else (here, _offer_return(2, held, "on from"))
    board = chess.Board(before.fen)
    legal = {move.uci() for move in board.legal_moves}
    candidates = [c for c in (question.candidates if question else _own(stretch, shown)) if c.uci in legal][:OFFERED]
    return tuple(Offer(str(i), c.uci, c.san, c.confidence, before.id, c.san) for i, c in enumerate(candidates, 1))


def _goes_back(shown: Shown, question: Unresolved) -> bool:
    first, last = question.words
    place = shown.lesson.words[first].place if first < last else None
    return place is None or place.kind == "navigation"


def _offer_return(key: int, spot: Spot, words: str) -> Offer:
    return Offer(str(key), "", "", None, spot.id, f"{words} {spot.number or 'the start'}", "return")


def _cursor(shown: Shown, word: int) -> Spot | None:
    """Where the board stood before the words from `word` on."""
    earlier = [s for s in shown.stretches if s.last <= word and s.first < s.last]
    return shown.spots[earlier[-1].spot] if earlier else None


def _own(stretch: Stretch | None, shown: Shown) -> Sequence[Candidate]:
    """The reading that stands, offered again so that it can be confirmed."""
    if stretch is None or stretch.mark not in ("played", "unsure", "retold", "inferred"):
        return ()
    move = shown.spots[stretch.spot].move
    return (Candidate(uci=move.uci, san=move.san, confidence=move.confidence),) if move else ()


_WORDS_FOR = {
    "plain": "Talk.",
    "settled": "Not a move, as you said.",
    "played": "Played:",
    "unsure": "Played, not sure:",
    "retold": "Told again:",
    "mentioned": "Only mentioned:",
    "inferred": "Nobody said this move:",
    "return": "Back to",
    "position": "A new start position.",
    "open": "Not understood.",
}


def _stands(stretch: Stretch | None, chosen: bool) -> str:
    if stretch is None:
        return "Words you chose." if chosen else ""
    words = _WORDS_FOR[stretch.mark]
    return f"{words} {stretch.says}".strip() if stretch.says else words.rstrip(":")
