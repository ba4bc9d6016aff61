"""Learning how sure a step is: talks are decoded with tables that never saw them, and each step is called right or not.

The model is a logistic regression with a small quadratic prior, fitted by L-BFGS.
"""

from __future__ import annotations

from collections.abc import Sequence

import chess
import numpy as np
from scipy.optimize import minimize

from lesson.decode.actions import Action, Actor
from lesson.decode.beam import Beam
from lesson.decode.confidence import chain_of, evidence
from lesson.decode.fit import Features
from lesson.decode.position import Tree
from lesson.decode.weights import Weights
from lesson.hear import hear_talk
from lesson.hear.sounds import Sounds
from lesson.learn.marked import Marked

Trial = tuple[Features, bool]

STRENGTH = 0.5


def trials(marked: Marked, weights: Weights, sounds: Sounds) -> list[Trial]:
    """Every new move the decoder made of the talk after a right one: the evidence for it, and whether it is right."""
    items = hear_talk(marked.talk, sounds)
    tree = Tree()
    actor = Actor(tree, weights)
    best, posteriors = Beam(tree, actor).run(items)
    chain = chain_of(best)
    truth = _true_nodes(marked)
    out: list[Trial] = []
    for state, found in zip(chain, evidence(items, actor, chain, posteriors), strict=True):
        action, before = state.action, state.back
        if found is None or before is None or not isinstance(action, Action) or action.kind != "play":
            continue
        if not before.mask >> state.cursor & 1 and _key(tree, action.parent) in truth:
            out.append((found, _key(tree, state.cursor) in truth))
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


def fit_trust(found: Sequence[Trial]) -> dict[str, float]:
    """The weights of the evidence that make the trials likeliest."""
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
