"""The decoder's weights: one number per readable feature, learned by `python -m lesson.learn`."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

from lesson.data import data_path
from lesson.decode.fit import Features
from lesson.errors import DataError
from lesson.hear.gist import Gist, read_gist


class Weights:
    """A linear score over named features; a name nobody learned counts nothing. `trust` are the weights of the evidence
    for and against a step (lesson/decode/confidence.py), empty where none were learned; `gist` is the network whose
    guesses are among the features, None where there is none."""

    def __init__(
        self, table: dict[str, float], trust: dict[str, float] | None = None, gist: Gist | None = None
    ) -> None:
        self.table = table
        self.trust = trust or {}
        self.gist = gist

    def besides(self, more: dict[str, float]) -> Weights:
        """The same with some weights added or replaced."""
        return Weights({**self.table, **more}, self.trust, self.gist)

    def __call__(self, features: Features) -> float:
        get = self.table.get
        return sum(get(name, 0.0) * value for name, value in features)


def read_weights(path: Path) -> Weights:
    """The weights of one file ("x.weights.json"), and the network learned with them ("x.gist.npz" beside it).

    Raises: DataError if it cannot be read.
    """
    gist = read_gist(path.with_name(path.name.replace("weights.json", "gist.npz")))
    try:
        table = json.loads(path.read_text(encoding="utf-8"))
        weights, trust = table["weights"], table.get("trust", {})
        numbers, trusted = ({str(k): float(v) for k, v in part.items()} for part in (weights, trust))
        return Weights(numbers, trusted, gist)
    except (OSError, ValueError, KeyError, AttributeError) as error:
        raise DataError(f"{path}: not a table of weights ({error}); run `python -m lesson.learn` to make it") from error


@lru_cache(maxsize=1)
def load_weights() -> Weights:
    """The shipped weights."""
    return read_weights(Path(str(data_path("shared/weights.json"))))
