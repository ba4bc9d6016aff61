"""What the features of an action say together: a correction of the weights' sum by one small hidden layer.

The sum of weights (lesson/decode/weights.py) lets every feature speak for itself; "a jump, in the middle of a sentence,
to where the move named last stands" is more than its parts. Every feature has a row of numbers beside its weight; the
rows of an action are added up, what is negative is cut off, and the rest is weighed. Learned by `python -m
lesson.learn` on top of the weights, which stay as they are: alone they still make sense, and what looks ahead uses them
alone.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from lesson.data import read_learned
from lesson.decode.fit import Features

Array = npt.NDArray[np.float32]

_DIGITS = 4


@dataclass(frozen=True, slots=True)
class Interplay:
    """For F features and K hidden units: the number of each feature by name, rows (F, K), bias (K), out (K)."""

    numbers: dict[str, int]
    rows: Array
    bias: Array
    out: Array

    def row_of(self, features: Features) -> Array:
        """What some features bring to the hidden layer, (K); those nobody learned bring nothing."""
        known = [(n, value) for name, value in features if (n := self.numbers.get(name)) is not None]
        if not known:
            return np.zeros(len(self.bias), np.float32)
        places, values = zip(*known, strict=True)
        row: Array = np.array(values, np.float32) @ self.rows[list(places)]
        return row


@dataclass(slots=True)
class Together:
    """The corrections of one phrase's actions. Their features come in parts that many actions share (the same lists,
    not equal ones), so what a part brings is worked out once."""

    interplay: Interplay
    _rows: Array = field(init=False)
    _places: dict[int, tuple[int, Features]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._rows = np.zeros((32, len(self.interplay.bias)), np.float32)
        self._rows[0] = self.interplay.bias

    def corrections(self, actions: Sequence[Sequence[Features]]) -> list[float]:
        """What to add to the score of each action, given its parts."""
        places: list[int] = []
        starts: list[int] = []
        known = self._places
        for parts in actions:
            starts.append(len(places))
            places.append(0)
            for part in parts:
                if part:
                    found = known.get(id(part))
                    places.append(self._place(part) if found is None else found[0])
        hidden = np.add.reduceat(self._rows[places], starts, axis=0)
        # rounded, so that how a machine adds up does not show
        corrections: list[float] = (np.maximum(hidden, 0.0) @ self.interplay.out).round(_DIGITS).tolist()
        return corrections

    def correction(self, parts: Sequence[Features]) -> float:
        """The same for one action, quicker than for many."""
        hidden = self._rows[0].copy()
        for part in parts:
            if part:
                found = self._places.get(id(part))
                place = self._place(part) if found is None else found[0]
                hidden += self._rows[place]
        return round(float(np.maximum(hidden, 0.0) @ self.interplay.out), _DIGITS)

    def _place(self, part: Features) -> int:
        place = len(self._places) + 1
        if place == len(self._rows):
            self._rows = np.concatenate([self._rows, np.zeros_like(self._rows)])
        self._rows[place] = self.interplay.row_of(part)
        self._places[id(part)] = place, part  # the part is kept: as long as it lives, no other has its id
        return place


def read_interplay(path: Path) -> Interplay | None:
    """The layer of one file, None where there is none.

    Raises: DataError if the file is broken.
    """
    return read_learned(path, parse_interplay, "a layer of weights")


def parse_interplay(data: bytes) -> Interplay:
    """The layer in the bytes of a file.

    Raises: EOFError, ValueError, KeyError or BadZipFile where they hold none.
    """
    with np.load(io.BytesIO(data), allow_pickle=False) as file:
        names = str(file["names"]).split("\n")
        rows, bias, out = (np.asarray(file[name], np.float32) for name in ("rows", "bias", "out"))
    if rows.shape != (len(names), len(bias)) or out.shape != bias.shape:
        raise ValueError("its sizes do not fit")
    return Interplay({name: number for number, name in enumerate(names)}, rows, bias, out)


def to_bytes(interplay: Interplay) -> bytes:
    """The layer as a file, its numbers in half precision."""
    file = io.BytesIO()
    rows, bias = (array.astype(np.float16) for array in (interplay.rows, interplay.bias))
    np.savez_compressed(file, names="\n".join(interplay.numbers), rows=rows, bias=bias, out=interplay.out)
    return file.getvalue()
