"""Learning the tables of shared/ from talks whose true moves are marked; not needed to use the program."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial
from pathlib import Path

from lesson.model import Decoded


def decoder_for(name: str) -> Callable[..., Decoded]:
    """The decoder with tables learned without the talk `name`, from the folder LESSON_FOLDS names
    (`python -m lesson.learn TALKS --folds FOLDER`).

    Raises: DataError if the folder holds no tables for the talk.
    """
    from lesson.decode import decode
    from lesson.decode.weights import read_weights
    from lesson.hear.sounds import read_sounds

    folder = Path(os.environ.get("LESSON_FOLDS", "folds"))
    weights, sounds = read_weights(folder / f"{name}.weights.json"), read_sounds(folder / f"{name}.sounds.json")
    return partial(decode, weights=weights, sounds=sounds)
