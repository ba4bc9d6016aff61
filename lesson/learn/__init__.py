"""Learning the tables of shared/ from talks whose true moves are marked; not needed to use the program."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from lesson.model import Decoded

if TYPE_CHECKING:
    from lesson.decode.weights import Weights
    from lesson.hear.sounds import Sounds


def decoder_for(name: str) -> Callable[..., Decoded]:
    """The decoder with tables learned without the talk `name`, from the folder LESSON_FOLDS names
    (`python -m lesson.learn TALKS --folds FOLDER`).

    Raises: DataError if the folder holds no tables for the talk.
    """
    from lesson.decode import decode

    weights, sounds = tables_without(name)
    return partial(decode, weights=weights, sounds=sounds)


def tables_without(name: str) -> tuple[Weights, Sounds]:
    """What `decoder_for` decodes with.

    Raises: DataError if the folder holds no tables for the talk.
    """
    from lesson.decode.weights import read_weights
    from lesson.hear.sounds import read_sounds

    folder = Path(os.environ.get("LESSON_FOLDS", "folds"))
    return read_weights(folder / f"{name}.weights.json"), read_sounds(folder / f"{name}.sounds.json")
