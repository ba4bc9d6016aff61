"""Corrections put into a talk: words replaced, facts for the decoder, and what could not be placed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import Literal, cast

import chess

from lesson.align import Range
from lesson.corrections.anchors import Anchor, Places
from lesson.corrections.record import OF_WORDS, Correction, Corrections, at_time, described
from lesson.corrections.words import substituted
from lesson.model import Decoded, Event, Fact, Sides, Talk, Word
from lesson.settings import SHOWN_CHARACTERS

PERSONS = ("i", "we", "he", "she", "you")
"""Persons whose side the decoder can be told: those the grammar of speech hears; a name is not among them."""


@dataclass(frozen=True, slots=True)
class Applied:
    """A talk with its corrections in place: word corrections have replaced words of `talk`, what words mean has become
    `facts`. `titles` by number of the chapter from 0, `sides` by person. `places` holds, by id, the words [first, last)
    of `talk` each anchored correction was found at; `lost` those that were not found, also told in `talk.flaws`."""

    talk: Talk
    facts: tuple[Fact, ...]
    titles: dict[int, str]
    sides: Sides
    places: dict[str, Range]
    lost: tuple[Correction, ...]


def apply(talk: Talk, corrections: Corrections) -> Applied:
    """Put `corrections` into `talk`: misheard words first, because what the others are anchored to may hold them."""
    lost: list[Correction] = []
    substitutions = [c for c in corrections.corrections if c.kind == "word"]
    for correction in substitutions:
        replaced = substituted(talk, correction.text, correction.becomes)
        if replaced is talk:
            lost.append(correction)
        talk = replaced
    anchored = [c for c in corrections.corrections if c.kind in OF_WORDS]
    places = Places(talk).find_all([_after(c.anchor, substitutions) for c in anchored])
    found = {c.id: place for c, place in zip(anchored, places, strict=True) if place is not None}
    said = [c for c in anchored if c.id in found]
    lost += [c for c in anchored if c.id not in found]
    titles = {c.chapter: c.becomes for c in corrections.corrections if c.kind == "title"}
    sides = {c.person.casefold().strip(): c.side for c in corrections.corrections if c.kind == "side" and c.side}
    flaws = tuple(f"a correction is lost: {described(c)} is not in this transcript; make it again" for c in lost)
    talk = replace(talk, flaws=(*talk.flaws, *flaws))
    return Applied(talk, tuple(_facts(said, found)), titles, sides, found, tuple(lost))


def unmet(facts: Sequence[Fact], decoded: Decoded) -> tuple[Fact, ...]:
    """The facts the told tree does not show: no position allows the move, or nothing told leads to the one meant."""
    pinned = {b: a.path for a, b in pairwise(facts) if a.means == "return" and a.first == a.last == b.first}
    return tuple(fact for fact in facts if not _is_met(fact, decoded, pinned.get(fact)))


def unmet_flaws(applied: Applied, decoded: Decoded) -> tuple[str, ...]:
    """One line for each correction that was found in the talk, but is not so in the told tree."""
    out = [_unmet_flaw(fact, applied.talk) for fact in unmet(applied.facts, decoded)]
    for chapter in applied.titles:
        if chapter >= len(decoded.titles):
            out.append(f"the title of chapter {chapter + 1} is not used: there are {len(decoded.titles)} chapters")
    if names := [person for person in applied.sides if person not in PERSONS]:
        heard = f"{', '.join(PERSONS[:-1])} and {PERSONS[-1]}"
        out.append(f"who speaks for which side is used for {heard}, not for {', '.join(names)[:SHOWN_CHARACTERS]}")
    return tuple(out)


def _unmet_flaw(fact: Fact, talk: Talk) -> str:
    words = " ".join(word.text for word in talk.words[fact.first : fact.last])[:SHOWN_CHARACTERS]
    start = talk.words[fact.first].start_ms if fact.first < len(talk.words) else None
    said = f'"{words}"' if words else "a correction"
    if fact.means == "move":
        return f"{said}{at_time(start)}: {fact.san} is not played where a correction has it; correct what comes before"
    return f"{said}{at_time(start)}: not a {fact.means} in the study, as a correction has it"


def settled(decoded: Decoded, applied: Applied) -> Decoded:
    """`decoded` with the names of the chapters, and without questions and guesses where a fact has the answer."""
    moves = {(fact.first, fact.last) for fact in applied.facts if fact.means == "move"}
    events = []
    for event in decoded.events:
        if (event.first, event.last) in moves and event.act in ("play", "retell"):
            event = replace(event, origin="corrected")
        silent = next((f for f in applied.facts if f.means in ("talk", "mention") and _share(f, event)), None)
        if silent is not None and event.act in ("mention", "talk", "point"):
            if silent.means == "talk":
                continue
            event = _mention(event, silent, decoded)
        events.append(event)
    titles = tuple(applied.titles.get(number, title) for number, title in enumerate(decoded.titles))
    return replace(decoded, events=tuple(events), titles=titles)


def _share(fact: Fact, event: Event) -> bool:
    return event.first < fact.last and fact.first < event.last


def _mention(event: Event, fact: Fact, decoded: Decoded) -> Event:
    """The event as a mere mention, of the move the fact names where it is legal."""
    uci, san = event.uci, event.san
    if fact.san:
        board = chess.Board(decoded.nodes[event.node].fen)
        move = _move(fact.san, board)
        uci, san = (move.uci(), board.san(move)) if move else ("", "")
    return replace(event, act="mention", uci=uci, san=san, reason="", origin="corrected")


def _move(text: str, board: chess.Board) -> chess.Move | None:
    """The legal move that SAN or UCI names, None where there is none."""
    for parse in (board.parse_san, board.parse_uci):
        try:
            return parse(text)
        except ValueError:
            continue
    return None


def _is_met(fact: Fact, decoded: Decoded, place: tuple[str, ...] | None) -> bool:
    """`place`: the path to the position in which the move is to be played, None where that is left open."""
    here = [event for event in decoded.events if (event.first, event.last) == (fact.first, fact.last)]
    if fact.means == "move":
        played = [event.node for event in here if _plays(fact.san, event, decoded)]
        return any(place is None or _path(node, decoded)[:-1] == place for node in played)
    if fact.means == "return":
        return any(event.act == "return" and _path(event.node, decoded) == fact.path for event in here)
    if fact.means == "chapter":
        return any(event.act == "chapter" for event in here)
    return not any(event.act in ("play", "retell") for event in here)


def _plays(text: str, event: Event, decoded: Decoded) -> bool:
    parent = decoded.nodes[event.node].parent if event.act in ("play", "retell") else -1
    move = _move(text, chess.Board(decoded.nodes[parent].fen)) if parent >= 0 else None
    return move is not None and move.uci() == event.uci


def _path(node: int, decoded: Decoded) -> tuple[str, ...]:
    out: list[str] = []
    while decoded.nodes[node].parent >= 0:
        out.append(decoded.nodes[node].uci)
        node = decoded.nodes[node].parent
    return tuple(reversed(out))


def _after(anchor: Anchor, substitutions: Sequence[Correction]) -> Anchor:
    """The anchor as it reads once the misheard words are replaced; it may have been made before or after that."""

    def read(text: str) -> str:
        talk = Talk("", "", tuple(map(Word, text.split())), ())
        for correction in substitutions:
            talk = substituted(talk, correction.text, correction.becomes)
        return " ".join(word.text for word in talk.words)

    return replace(anchor, text=read(anchor.text), before=read(anchor.before), after=read(anchor.after))


def _facts(said: Sequence[Correction], found: dict[str, Range]) -> Iterator[Fact]:
    """One fact for each correction that was found, in the order of the words; no two share a word.

    A recogniser may run several moves together into words that belong to each of them in part: a fact then keeps the
    words that none before it has, or the place behind those.
    """
    taken = 0
    for correction, first, last in _shared_out(said, found):
        first = max(first, taken)
        taken = last = max(first, last)
        yield _fact(correction, first, last)


def _shared_out(said: Sequence[Correction], found: dict[str, Range]) -> Iterator[tuple[Correction, int, int]]:
    """What holds of each stretch of words that corrections were found at, with the part of the words it is about."""
    ordered = sorted(said, key=lambda c: found[c.id])
    for (first, last), group in groupby(ordered, key=lambda c: found[c.id]):
        here = list(group)
        if here[-1].kind not in ("return", "move"):
            yield here[-1], first, last
            continue
        returns = [c for c in here if c.kind == "return"]
        moves = [c for c in here if c.kind == "move"]
        if returns:
            # "back to e4, knight f3" may be one stretch: the return then comes first, on no words of its own
            yield returns[-1], first, first if moves else last
        for number, correction in enumerate(moves):
            begin, end = (first + (last - first) * (number + i) // len(moves) for i in (0, 1))
            yield correction, begin, end


def _fact(correction: Correction, first: int, last: int) -> Fact:
    means = cast(Literal["move", "mention", "talk", "return", "chapter"], correction.kind)
    return Fact(first, last, means, correction.move, correction.path, correction.chapter, correction.fen)
