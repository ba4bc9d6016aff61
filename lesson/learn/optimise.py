"""Weights from examples: a conditional log-linear model with a quadratic prior, by L-BFGS (Liu & Nocedal 1989)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

from lesson.learn.forced import Example

Array = npt.NDArray[np.float64]


class Data:
    """Examples as one sparse matrix: a row per candidate action."""

    def __init__(self, groups: Sequence[Sequence[Example]], least: int = 3) -> None:
        """`groups` are the examples of one talk each; a feature seen in fewer than `least` talks is dropped."""
        seen: Counter[str] = Counter()
        for group in groups:
            seen.update({name for e in group for c in e.candidates for name, _ in c})
        needed = {name for name, n in seen.items() if n >= (least if "|" in name else 2)}
        self.names = sorted(needed)
        index = {name: k for k, name in enumerate(self.names)}
        rows: list[int] = []
        columns: list[int] = []
        values: list[float] = []
        row = 0
        self.starts: list[int] = []
        right: list[bool] = []
        self.talk_of: list[int] = []
        for t, group in enumerate(groups):
            for example in group:
                self.starts.append(row)
                self.talk_of.append(t)
                chosen = set(example.right)
                for k, features in enumerate(example.candidates):
                    for name, value in features:
                        if name in index:
                            rows.append(row)
                            columns.append(index[name])
                            values.append(value)
                    right.append(k in chosen)
                    row += 1
        self.matrix = csr_matrix((values, (rows, columns)), shape=(row, len(self.names)))
        self.right = np.array(right)
        self.ends = [*self.starts[1:], row]
        self.prior = np.array([4.0 if "|" in name else 1.0 for name in self.names])

    def subset(self, without: int | None) -> tuple[csr_matrix, npt.NDArray[np.bool_], Array]:
        """(matrix, right, example of each row) without one talk's examples."""
        keep = [
            (a, b)
            for a, b, t in zip(self.starts, self.ends, self.talk_of, strict=True)
            if without is None or t != without
        ]
        rows = np.concatenate([np.arange(a, b) for a, b in keep])
        owner = np.concatenate([np.full(b - a, k) for k, (a, b) in enumerate(keep)])
        return self.matrix[rows], self.right[rows], owner


def fit_weights(
    data: Data, without: int | None = None, strength: float = 1.0, start: Array | None = None, iterations: int = 150
) -> Array:
    """The weights that make the right actions likeliest, with prior `strength` (-strength * prior * w^2 / 2)."""
    matrix, right, owner = data.subset(without)
    n = int(owner[-1]) + 1
    first = np.searchsorted(owner, np.arange(n))

    def loss(w: Array) -> tuple[float, Array]:
        scores = matrix @ w
        top = np.maximum.reduceat(scores, first)
        e = np.exp(scores - top[owner])
        z = np.add.reduceat(e, first)
        g = np.add.reduceat(np.where(right, e, 0.0), first)
        g = np.maximum(g, 1e-300)
        p = e / z[owner]
        q = np.where(right, e / g[owner], 0.0)
        value = float(np.sum(np.log(z) - np.log(g)) + 0.5 * strength * np.sum(data.prior * w * w))
        gradient = matrix.T @ (p - q) + strength * data.prior * w
        return value, gradient

    begin = start if start is not None else np.zeros(matrix.shape[1])
    found = minimize(loss, begin, jac=True, method="L-BFGS-B", options={"maxiter": iterations})
    return np.asarray(found.x, dtype=np.float64)
