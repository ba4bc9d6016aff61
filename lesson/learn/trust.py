"""Learning how sure a move is: talks are decoded with tables that never saw them, and each move is called right or not.

Two logistic regressions with a small quadratic prior, fitted by L-BFGS: one for steps, and one for lines made of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import chess
import numpy as np
from scipy.optimize import minimize

from lesson.decode.actions import Action, Actor
from lesson.decode.beam import Beam
from lesson.decode.confidence import chain_of, evidence, line_features, step_confidence
from lesson.decode.fit import Features
from lesson.decode.position import Tree
from lesson.decode.weights import Weights
from lesson.hear import hear_talk
from lesson.hear.dictation import Dictation
from lesson.hear.gist import with_gist
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import Sounds
from lesson.learn.marked import Marked

STRENGTH = 0.5


@dataclass(frozen=True, slots=True)
class Trial:
    """A new move of the decoder's: the evidence for its step, how sure its chapter's start is, the numbers (in the
    talk's trials) of the steps of its line, itself the last; whether it is right, and whether what it follows is."""

    evidence: Features
    start: float
    line: tuple[int, ...]
    noise: int
    right: bool
    follows: bool


def trials(marked: Marked, weights: Weights, sounds: Sounds) -> list[Trial]:
    """Every new move the decoder made of the talk."""
    words = [word.text for word in marked.talk.words]
    items = with_gist(hear_talk(marked.talk, sounds), words, weights.gist)
    tree = Tree()
    actor = Actor(tree, weights)
    best, posteriors = Beam(tree, actor).run(items)
    chain = chain_of(best)
    truth = _true_nodes(marked)
    out: list[Trial] = []
    lines: dict[int, tuple[int, ...]] = {}
    start = 1.0
    found_all = evidence(items, actor, chain, posteriors)
    for state, item, found, posterior in zip(chain, items, found_all, posteriors, strict=True):
        action, before = state.action, state.back
        if isinstance(item, Dictation):
            start = posterior
        if found is None or before is None or not isinstance(action, Action) or action.kind != "play":
            continue
        if not isinstance(item, Phrase) or before.mask >> state.cursor & 1:
            continue
        line = (*lines.get(action.parent, ()), len(out))
        for node in tree.path(state.cursor)[-len(action.moves) :]:
            lines.setdefault(node, line)
        right, follows = (_key(tree, node) in truth for node in (state.cursor, action.parent))
        out.append(Trial(found, start, line, item.noise, right, follows))
    return out


def _true_nodes(marked: Marked) -> set[tuple[str, tuple[str, ...]]]:
    start = chess.Board()
    out: set[tuple[str, tuple[str, ...]]] = {(start.epd(), ())}
    for mark in marked.marks:
        if mark.act == "chapter":
            start = chess.Board(mark.fen)
        out.update((start.epd(), mark.path[:n]) for n in range(len(mark.path) + 1))
    return out


def _key(tree: Tree, node: int) -> tuple[str, tuple[str, ...]]:
    path = tree.path(node)
    return tree.position[path[0]].board.epd(), tuple(tree.uci[n] for n in path[1:])


def fit_trust(talks: Sequence[Sequence[Trial]]) -> dict[str, float]:
    """The weights of the evidence for a step and for a line; `talks` are the trials of one transcript each."""
    steps = _fitted([(trial.evidence, trial.right) for talk in talks for trial in talk if trial.follows])
    lines: list[tuple[Features, bool]] = []
    for talk in talks:
        sure = [step_confidence(trial.evidence, steps) for trial in talk]
        lines += [
            (line_features([trial.start, *(sure[k] for k in trial.line)], trial.noise), trial.right) for trial in talk
        ]
    return {**steps, **_fitted(lines)}


def _fitted(found: Sequence[tuple[Features, bool]]) -> dict[str, float]:
    """The weights that make what was found likeliest."""
    names = sorted({name for features, _ in found for name, _ in features})
    index = {name: k for k, name in enumerate(names)}
    x = np.zeros((len(found), len(names)))
    for row, (features, _) in enumerate(found):
        for name, value in features:
            x[row, index[name]] += value
    y = np.array([1.0 if right else -1.0 for _, right in found])

    def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
        margin = y * (x @ w)
        p = 1.0 / (1.0 + np.exp(np.clip(margin, -30, 30)))
        value = float(np.sum(np.logaddexp(0.0, -margin)) + 0.5 * STRENGTH * np.sum(w * w))
        return value, -(x.T @ (y * p)) + STRENGTH * w

    result = minimize(loss, np.zeros(len(names)), jac=True, method="L-BFGS-B", options={"maxiter": 300})
    return {name: round(float(w), 4) for name, w in zip(names, result.x, strict=True)}
