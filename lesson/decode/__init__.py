"""Which legal tree explains the words best: the decoder."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Literal

from lesson.decode.actions import Actor
from lesson.decode.beam import Beam, Item, Width
from lesson.decode.confidence import chain_of, evidence, step_confidence
from lesson.decode.events import to_decoded
from lesson.decode.position import Tree
from lesson.decode.weights import Weights, load_weights
from lesson.hear import hear_talk
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import Sounds, load_sounds
from lesson.model import Decoded, Fact, Talk
from lesson.openings import Key
from lesson.settings import PREPARED_WEIGHTS

__all__ = ["Item", "Width", "decode"]


def _sided(item: Item, sides: Mapping[str, Literal["w", "b"]]) -> Item:
    """A phrase whose "we" is known to be White says so as "White" would."""
    if isinstance(item, Phrase) and not item.side and item.person in sides:
        return replace(item, side=sides[item.person])
    return item


@contextmanager
def _no_collecting() -> Iterator[None]:
    """The search keeps millions of records and hardly makes a cycle; looking for cycles took half its time."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


def decode(
    talk: Talk,
    weights: Weights | None = None,
    sounds: Sounds | None = None,
    width: Width | None = None,
    facts: Sequence[Fact] = (),
    prepared: Mapping[Key, frozenset[str]] | None = None,
    sides: Mapping[str, Literal["w", "b"]] | None = None,
) -> Decoded:
    """The told tree that explains the words of `talk` best, and what each stretch of words did to it. What `facts` say
    of some words is taken as it stands; moves that are `prepared` (UCI, by `openings.position_key`) are likely, and
    `sides` says for which side "i", "we", "he", "she" or "you" speaks.

    Raises: DataError if a data file of the project is missing or broken.
    """
    items = [_sided(item, sides or {}) for item in hear_talk(talk, sounds or load_sounds(), facts)]
    tree = Tree(prepared)
    weights = weights or load_weights()
    if prepared:
        weights = Weights({**weights.table, **PREPARED_WEIGHTS}, weights.trust)
    actor = Actor(tree, weights)
    with _no_collecting():
        best, posteriors = Beam(tree, actor, width or Width()).run(items)
    found = evidence(items, actor, chain_of(best), posteriors)
    steps = [
        posterior if features is None or not weights.trust else step_confidence(features, weights.trust)
        for features, posterior in zip(found, posteriors, strict=True)
    ]
    return to_decoded(items, actor, best, steps, weights.trust)
