"""Weights tuned by the search itself: globally normalised over the beam.

The true path is followed stretch by stretch. In each stretch the beam runs from the true state until the true path
falls out of it or the stretch ends; the loss is -ln of the true path's share of the beam (Andor et al. 2016, "Globally
Normalized Transition-Based Neural Networks", section 3, with early updates as in Collins & Roark 2004). Steps follow
Adagrad (Duchi et al. 2011); the weights are drawn towards where they started and averaged over all updates.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from lesson.decode.actions import Action, Actor
from lesson.decode.beam import Beam, Item, Width
from lesson.decode.fit import Features
from lesson.decode.thread import State
from lesson.decode.weights import Weights
from lesson.hear.phrases import Phrase
from lesson.learn.forced import Forced, Step

STRETCH = 24
WIDTH = Width(states=16, per_cursor=4)


def stretches(steps: Sequence[Step]) -> Iterator[list[Step]]:
    """Runs of steps in which every step starts where the one before ended and has a right action."""
    run: list[Step] = []
    for step in steps:
        if not step.right:
            if run:
                yield run
            run = []
            continue
        if run and step.before is not run[-1].after:
            yield run
            run = []
        run.append(step)
    if run:
        yield run


@dataclass
class Tuner:
    """Holds the weights while they are tuned."""

    start: dict[str, float]
    rate: float = 0.15
    pull: float = 0.002
    weights: dict[str, float] = field(default_factory=dict)
    _squares: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    _sum: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    _count: int = 0
    loss: float = 0.0
    seen: int = 0
    held: int = 0

    def __post_init__(self) -> None:
        self.weights = dict(self.start)

    def talk(self, forced: Forced, items: Sequence[Item]) -> None:
        """One pass over a transcript's true path."""
        actor = Actor(forced.tree, Weights(self.weights))
        beam = Beam(forced.tree, actor, WIDTH)
        gradient: dict[str, float] = defaultdict(float)
        for run in stretches(forced.steps):
            at = 0
            while at < len(run):
                at += max(1, self._stretch(beam, items, run[at : at + STRETCH], gradient))
        self._update(gradient)

    def _stretch(self, beam: Beam, items: Sequence[Item], run: Sequence[Step], gradient: dict[str, float]) -> int:
        score = Weights(self.weights)
        states = [replace(run[0].before, score=0.0, back=None, action=None)]
        gold: list[Features] = []
        total = 0.0
        done = 0
        for step in run:
            phrase = items[step.index]
            assert isinstance(phrase, Phrase)
            best = max(step.right, key=score)
            gold.append(best)
            total += score(best)
            states = beam.extend(step.index, phrase, states, None)
            done += 1
            if not any(s.mask == step.after.mask and s.cursor == step.after.cursor for s in states):
                break
        else:
            self.held += 1
        self.seen += 1
        end = run[done - 1].after
        rivals = [s for s in states if not (s.mask == end.mask and s.cursor == end.cursor)]
        top = max([total, *(s.score for s in rivals)])
        shares = [math.exp(max(-60.0, s.score - top)) for s in rivals]
        mine = math.exp(max(-60.0, total - top))
        z = mine + sum(shares)
        self.loss -= math.log(mine / z)
        if mine / z > 0.98:
            return done
        for features in gold:
            for name, value in features:
                gradient[name] += (1.0 - mine / z) * value
        for state, share in zip(rivals, shares, strict=True):
            if share / z > 0.005:
                for features in path_features(state):
                    for name, value in features:
                        gradient[name] -= share / z * value
        return done

    def _update(self, gradient: dict[str, float]) -> None:
        weights = self.weights
        for name, g in gradient.items():
            if name not in self.start or not g:
                continue
            g -= self.pull * (weights[name] - self.start[name])
            self._squares[name] += g * g
            weights[name] += self.rate * g / math.sqrt(1.0 + self._squares[name])
        self._count += 1
        for name, value in weights.items():
            self._sum[name] += value

    def average(self) -> dict[str, float]:
        """The weights averaged over all updates so far."""
        return {name: value / self._count for name, value in self._sum.items()} if self._count else dict(self.weights)

    def forget_average(self) -> None:
        """Starts the average anew, so that the first rough pass does not count."""
        self._sum.clear()
        self._count = 0


def path_features(state: State) -> Iterator[Features]:
    """The features of every action that led to the state, latest first."""
    at: State | None = state
    while at is not None and at.back is not None:
        assert isinstance(at.action, Action)
        yield at.action.features
        at = at.back
