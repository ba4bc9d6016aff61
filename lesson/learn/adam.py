"""Steps down a gradient: Adam (Kingma & Ba 2015) under one cycle of the rate (Smith & Topin 2019)."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

Table = dict[str, npt.NDArray[np.float32]]


class Adam:
    """Changes `arrays` in place in a given number of steps. The rate goes up from a 25th of `rate` over the share
    `rise` of them, then down to almost nothing; `decay` draws every number to nought, and a gradient longer than `clip`
    is shortened to it."""

    def __init__(
        self, arrays: Table, steps: int, rate: float, rise: float, decay: float = 0.0, clip: float = math.inf
    ) -> None:
        self.arrays, self.steps, self.done = arrays, steps, 0
        self.peak, self.rise, self.decay, self.clip = rate, rise, decay, clip
        self.first: dict[str, Any] = {name: np.zeros_like(x) for name, x in arrays.items()}
        self.second: dict[str, Any] = {name: np.zeros_like(x) for name, x in arrays.items()}

    def _rate(self) -> float:
        share = self.done / max(1, self.steps)
        low, peak = self.peak / 25, self.peak
        if share < self.rise:
            return peak + (low - peak) * (1 + math.cos(math.pi * share / self.rise)) / 2
        return peak * (1 + math.cos(math.pi * (share - self.rise) / (1 - self.rise))) / 2

    def step(self, gradients: Table) -> None:
        """One step against the gradients, an array for each of `arrays`."""
        rate = self._rate()
        self.done += 1
        scale = 1.0
        if self.clip < math.inf:
            norm = math.sqrt(sum(float((g * g).sum()) for g in gradients.values()))
            scale = min(1.0, self.clip / (norm + 1e-6))
        for name, raw in gradients.items():
            g = raw * scale if scale != 1.0 else raw
            m, v = self.first[name], self.second[name]
            m += 0.1 * (g - m)
            v += 0.001 * (g * g - v)
            moved = m / (1 - 0.9**self.done) / (np.sqrt(v / (1 - 0.999**self.done)) + 1e-8)
            self.arrays[name] -= (rate * (moved + self.decay * self.arrays[name])).astype(np.float32)
