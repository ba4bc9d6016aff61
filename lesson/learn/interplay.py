"""Learning what features say together (lesson/decode/interplay.py), on top of weights already fitted.

The same likelihood as the weights' (lesson/learn/optimise.py), by gradient descent through examples in random order,
with features and hidden units dropped at random. Sizes, rates and the prior's strength were chosen on talks of our own
that no fit had seen: half or twice the units, or a second layer, were within .004 nats a step.
"""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix

from lesson.decode.interplay import Array, Interplay
from lesson.learn.adam import Adam, Table
from lesson.learn.optimise import Data

UNITS = 32
ROUNDS, BATCH, RATE, RISE = 8, 256, 6e-3, 0.15
PRIOR = 5.0  # times the prior of the feature's weight
FEATURES_DROPPED, UNITS_DROPPED = 0.1, 0.3
LEAST = 0.01  # the longest row that may be left out
_SPREAD, _SPREAD_OUT = 0.05, 0.1  # of the numbers it begins with


def learn_interplay(data: Data, weights: npt.NDArray[Any], without: Container[int] = (), seed: int = 0) -> Interplay:
    """The hidden layer that, added to these weights, makes the right actions of the talks not in `without` likeliest.
    The same data and seed give the same layer."""
    random = np.random.default_rng(seed)
    matrix, right, owner = data.subset(without)
    firsts = np.flatnonzero(np.diff(owner, prepend=-1))
    heard = np.flatnonzero(_column(matrix, data.names, "none")[firsts])  # not what was played before anyone spoke
    lasts = np.append(firsts[1:], len(owner))
    base = (matrix @ weights).astype(np.float32)
    matrix = matrix.astype(np.float32)
    arrays: Table = {
        "rows": random.standard_normal((matrix.shape[1], UNITS)).astype(np.float32) * np.float32(_SPREAD),
        "bias": np.zeros(UNITS, np.float32),
        "out": random.standard_normal(UNITS).astype(np.float32) * np.float32(_SPREAD_OUT),
    }
    shrink = (PRIOR * data.prior / len(heard)).astype(np.float32)[:, None]
    adam = Adam(arrays, ROUNDS * -(-len(heard) // BATCH), RATE, RISE)
    for _ in range(ROUNDS):
        order = random.permutation(heard)
        for at in range(0, len(order), BATCH):
            chosen = order[at : at + BATCH]
            rows = np.concatenate([np.arange(firsts[k], lasts[k]) for k in chosen])
            of = np.repeat(np.arange(len(chosen)), lasts[chosen] - firsts[chosen])
            gradients = slope(arrays, matrix[rows], base[rows], right[rows], of, random)
            gradients["rows"] += shrink * arrays["rows"]
            adam.step(gradients)
    kept = np.flatnonzero(np.abs(arrays["rows"]).max(axis=1) >= LEAST)
    numbers = {data.names[k]: n for n, k in enumerate(kept)}
    return Interplay(numbers, arrays["rows"][kept], arrays["bias"], arrays["out"])


def slope(
    arrays: Mapping[str, npt.NDArray[Any]],
    matrix: csr_matrix,
    base: npt.NDArray[Any],
    right: npt.NDArray[np.bool_],
    of: npt.NDArray[Any],
    random: np.random.Generator | None,
) -> Table:
    """The gradient of the mean of -ln p over examples. A row of `matrix` is a candidate, `base` its score before, `of`
    the number of its example; without `random` nothing is dropped."""
    count = int(of[-1]) + 1
    seen = matrix
    kept: Array = np.ones((len(of), UNITS), np.float32)
    if random is not None:
        seen = matrix.copy()
        seen.data *= (random.random(len(seen.data), np.float32) >= FEATURES_DROPPED) / np.float32(1 - FEATURES_DROPPED)
        kept = (random.random(kept.shape, np.float32) >= UNITS_DROPPED).astype(np.float32) / np.float32(
            1 - UNITS_DROPPED
        )
    raw = seen @ arrays["rows"] + arrays["bias"]
    hidden = np.maximum(raw, 0.0) * kept
    scores = base + hidden @ arrays["out"]
    first = np.searchsorted(of, np.arange(count))
    odds = np.exp(scores - np.maximum.reduceat(scores, first)[of])
    rightly = np.where(right, odds, 0.0)
    good = np.maximum(np.add.reduceat(rightly, first), 1e-30)
    to_scores = ((odds / np.add.reduceat(odds, first)[of] - rightly / good[of]) / count).astype(np.float32)
    to_raw = to_scores[:, None] * arrays["out"] * kept * (raw > 0)
    return {"rows": seen.T @ to_raw, "bias": to_raw.sum(axis=0), "out": hidden.T @ to_scores}


def _mask(random: np.random.Generator, shape: tuple[int, ...], dropped: float) -> Array:
    """Nought for what is dropped; the rest makes up for it."""
    return (random.random(shape, np.float32) >= dropped).astype(np.float32) / np.float32(1 - dropped)


def _column(matrix: csr_matrix, names: list[str], name: str) -> npt.NDArray[np.bool_]:
    """Which rows have a feature."""
    rows = np.repeat(np.arange(matrix.shape[0]), np.diff(matrix.indptr))
    found = np.zeros(matrix.shape[0], np.bool_)
    found[rows[matrix.indices == names.index(name)]] = True
    return found
