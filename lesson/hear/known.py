"""Facts put among the phrases: where somebody said what the words mean, nothing is left to guess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from lesson.hear.dictation import Dictation
from lesson.hear.phrases import Phrase
from lesson.hear.placing import ScoredFen
from lesson.model import Fact

Item = Phrase | Dictation

NOT_A_MOVE = "-"
"""`Phrase.known` of words that are known to move nothing."""


def with_facts(items: Sequence[Item], facts: Sequence[Fact]) -> list[Item]:
    """The items of a talk, those that share words with a fact replaced by what the fact says."""
    out = list(items)
    for fact in sorted(facts, key=lambda f: (f.first, f.last)):
        touched = [i for i in out if i.first < fact.last and fact.first < i.last]
        out = [i for i in out if i not in touched] + _made(fact, [i for i in touched if isinstance(i, Phrase)])
    return _behind_no_move(sorted(out, key=lambda item: (item.first, item.last)))


def _behind_no_move(items: Sequence[Item]) -> list[Item]:
    out = list(items)
    for at, (before, item) in enumerate(pairwise(items), 1):
        if isinstance(before, Phrase) and isinstance(item, Phrase) and before.known == NOT_A_MOVE != item.known:
            out[at] = replace(item, denied=before)
    return out


def _made(fact: Fact, phrases: Sequence[Phrase]) -> list[Item]:
    if fact.means == "chapter":
        return [Dictation(fact.first, fact.last, (ScoredFen(fact.fen, 0.0),))]
    if fact.means in ("mention", "talk"):
        return [replace(p, known=NOT_A_MOVE) for p in phrases]
    like = max(phrases, key=lambda p: (p.last - p.first, -p.first), default=Phrase(fact.first, fact.last, "known"))
    made = Phrase(
        fact.first,
        fact.last,
        "known",
        known=fact.san if fact.means == "move" else "",
        path=fact.path if fact.means == "return" else None,
        cues=like.cues,
        inside=like.inside,
        context=like.context,
        numbers=like.numbers,
        opens=like.opens,
        gap=like.gap,
        lead=min(like.lead, fact.first) if phrases else fact.first,
        ref=like.ref,
        after=like.after,
        ends=like.ends,
        judged=like.judged,
        noise=like.noise,
    )
    return [made]
