"""What each part of the decoder brings: the study with one part taken out (`python -m tests.accuracy --ablations`).

Nothing is learned anew without the part, so a figure says what the decoder loses that was learned with it; one learned
without it from the start would lose less.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from lesson.decode import decode
from lesson.decode.beam import Width
from lesson.decode.weights import Weights
from lesson.hear.sounds import Sounds
from lesson.learn.forced import DEFAULTS
from tests.accuracy.study import Decoder, DecoderFor

Parts = tuple[Weights, Sounds, Width]

_PLACE = (
    "at=",
    "re=",
    "alt=",
    "at!",
    "re!",
    "at|",
    "re|",
    "jump",
    "number",
    "rather",
    "person",
    "side",
    "ours",
    "habit",
)
_PLAIN = ("at!", "re!", "at=cursor", "re=cursor", "alt=cursor")  # what is left: here, or elsewhere at all
_SET = {"none": 1.0, "at=cursor": 0.5, "at!": -3.0, "re!": -2.0, "name": -3.0, "ret": -2.0}


def _sounds(parts: Parts) -> Parts:
    """Squares and men are taken as they are spelled: no confusions counted over recognisers' transcripts."""
    weights, _, width = parts
    return weights, Sounds({}, {}, {}, {}), width


def _thread(parts: Parts) -> Parts:
    """Of a place only whether the talk stands there: no cues of going back, distance, side, person, number."""
    weights, sounds, width = parts
    table = {n: v for n, v in weights.table.items() if n in _PLAIN or not n.startswith(_PLACE)}
    return Weights(table, weights.trust, weights.gist), sounds, width


def _ahead(parts: Parts) -> Parts:
    """Hypotheses are ranked by what was heard so far alone."""
    weights, sounds, width = parts
    return weights, sounds, replace(width, ahead=0)


def _beam(parts: Parts) -> Parts:
    """One hypothesis: what looked best at a phrase is never taken back."""
    weights, sounds, width = parts
    return weights, sounds, replace(width, states=1)


def _gist(parts: Parts) -> Parts:
    """No network that read the whole talk first."""
    weights, sounds, width = parts
    return Weights(weights.table, weights.trust), sounds, width


def _learned(parts: Parts) -> Parts:
    """Weights set by hand; nothing learned but the sounds and how sure a step is."""
    weights, sounds, width = parts
    return Weights({**DEFAULTS, **_SET}, weights.trust), sounds, width


WITHOUT: Mapping[str, Callable[[Parts], Parts]] = {
    "no sounds": _sounds,
    "no thread": _thread,
    "no look-ahead": _ahead,
    "one hypothesis": _beam,
    "no network": _gist,
    "set by hand": _learned,
}


def ablated(tables_of: Callable[[str], tuple[Weights, Sounds]]) -> dict[str, DecoderFor]:
    """For each part a decoder without it; `tables_of` gives what is learned, by the name of the talk to be judged."""

    def without(take_out: Callable[[Parts], Parts], name: str) -> Decoder:
        weights, sounds, width = take_out((*tables_of(name), Width()))
        return partial(decode, weights=weights, sounds=sounds, width=width)

    return {system: partial(without, take_out) for system, take_out in WITHOUT.items()}
