"""Which legal tree explains the words best: the decoder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from lesson.decode.beam import Item, Width
from lesson.decode.glance import Glance
from lesson.decode.reader import Reader
from lesson.decode.weights import Weights
from lesson.hear.sounds import Sounds
from lesson.model import Decoded, Fact, Sides, Talk
from lesson.openings import Key

__all__ = ["Glance", "Item", "Reader", "Width", "decode"]


def decode(
    talk: Talk,
    weights: Weights | None = None,
    sounds: Sounds | None = None,
    width: Width | None = None,
    facts: Sequence[Fact] = (),
    prepared: Mapping[Key, frozenset[str]] | None = None,
    sides: Sides | None = None,
) -> Decoded:
    """The told tree that explains the words of `talk` best, and what each stretch of words did to it. What `facts` say
    of some words is taken as it stands; moves that are `prepared` (UCI, by `openings.position_key`) are likely, and
    `sides` says for which side "i", "we", "he", "she" or "you" speaks.

    Raises: DataError if a data file of the project is missing or broken.
    """
    return Reader(prepared, weights, sounds, width, once=True).read(talk, facts, sides=sides)
