"""How sure each step is: a logistic model over what the search noticed, learned with the weights.

A step is right when its move is, given that what came before is right. A move is right when all steps of its line are;
their doubts are mostly about the same thing, so a second such model makes its confidence of theirs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from lesson.decode.actions import Action, Actor
from lesson.decode.beam import Item
from lesson.decode.fit import Features
from lesson.decode.thread import State
from lesson.hear.phrases import Phrase

NEAR, FAR = 6, 20  # phrases looked ahead for moves that no longer fit
_CLIP = 6.0
_SURE = 1.0 - 1e-4
_MOST_DOUBT, _LEAST_DOUBT = (
    3.0,
    0.02,
)  # in -ln p; what a single step can say against its line, and what a whole one does


def chain_of(best: State) -> list[State]:
    """The states of a hypothesis, one per item, oldest first; the state before the first item is left out."""
    out: list[State] = []
    state: State | None = best
    while state is not None and state.back is not None:
        out.append(state)
        state = state.back
    out.reverse()
    return out


def evidence(
    items: Sequence[Item],
    actor: Actor,
    chain: Sequence[State],
    posteriors: Sequence[float],
    margins: dict[int, float] | None = None,
) -> list[Features | None]:
    """For each item that moved the talk on, what speaks for and against its reading; None for the others.

    `posteriors` are the shares of the beam's probability that agreed a few phrases later. `margins` holds what was
    worked out for states (by their id) that live on from a reading before, and takes up the rest.
    """
    margins = {} if margins is None else margins
    misfits = [_misfit(state.action) for state in chain]
    out: list[Features | None] = []
    for index, (state, item, posterior) in enumerate(zip(chain, items, posteriors, strict=True)):
        action = state.action
        actor.forget_before(index)
        if not isinstance(item, Phrase) or not isinstance(action, Action) or action.kind not in ("play", "return"):
            out.append(None)
            continue
        assert state.back is not None
        if id(state) not in margins:
            margins[id(state)] = _margin(actor, index, item, state.back, action)
        p = min(max(posterior, 1e-3), 1 - 1e-3)
        fills = len(action.moves) > action.named
        features: Features = [
            ("bias", 1.0),
            ("posterior", math.log(p / (1 - p))),
            ("margin", margins[id(state)]),
            ("score", min(_CLIP, max(-_CLIP, action.score))),
            ("near", math.log1p(sum(misfits[index + 1 : index + 1 + NEAR]))),
            ("far", math.log1p(sum(misfits[index + 1 : index + 1 + FAR]))),
            ("unheard", 1.0 - item.probability),
            (f"noise{item.noise}", 1.0),
            (f"kind:{item.kind}", 1.0),
        ]
        if action.kind == "return" or action.relation != "cursor":
            features += [("jump", 1.0), (f"jump:noise{item.noise}", 1.0)]
        if fills:
            features.append(("fill", 1.0))
        if index + 1 >= len(chain):
            features.append(("last", 1.0))
        out.append(features)
    return out


def _misfit(action: object) -> int:
    """Whether a phrase that names a move outright was passed over although, or because, it could not be played."""
    if not isinstance(action, Action) or action.kind != "none":
        return 0
    return int(any(name in ("none:named:misfit", "none:bare:misfit") for name, _ in action.features))


def _margin(actor: Actor, index: int, phrase: Phrase, before: State, chosen: Action) -> float:
    """By how much the action beats the best other one, in -ln p, within bounds; negative if it does not."""
    others = [action.score for action in actor.actions(index, phrase, before) if _same_key(action) != _same_key(chosen)]
    return min(_CLIP, max(-_CLIP, chosen.score - max(others))) if others else _CLIP


def _same_key(action: Action) -> tuple[object, ...]:
    return action.kind, action.parent, action.target, *(choice.uci for choice in action.moves)


def step_confidence(features: Features, table: dict[str, float]) -> float:
    """The model's probability that a step is right."""
    total = sum(table.get(name, 0.0) * value for name, value in features)
    return min(_SURE, 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, total)))))


def line_features(steps: Sequence[float], noise: int) -> Features:
    """What speaks against a whole line: `steps` are the confidences of its start and of its steps, `noise` how badly
    the talk was heard."""
    doubt = sum(min(_MOST_DOUBT, -math.log(max(step, 1e-6))) for step in steps)
    return [("line", 1.0), ("line:doubt", math.log(doubt + _LEAST_DOUBT)), (f"line:noise{noise}", 1.0)]


def line_confidence(steps: Sequence[float], noise: int, table: dict[str, float]) -> float:
    """The probability that all steps of a line are right; their product where no table was learned."""
    return step_confidence(line_features(steps, noise), table) if "line" in table else math.prod(steps)
