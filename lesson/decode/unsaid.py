"""How likely a move is before anyone says it: what a listener takes for granted where the speaker leaves a move out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import chess

from lesson.decode.fit import Features
from lesson.decode.position import LETTER, Choice, Tree
from lesson.decode.sense import sense

_MOST_GAIN = 5.0


def unsaid_features(tree: Tree, node: int, choice: Choice) -> Features:
    """What speaks for a move at a node, whatever the words. The names begin with "f:"."""
    before = tree.choice[node]
    up = tree.parent[node]
    own = tree.choice[up] if up >= 0 else None
    position = tree.position[node]
    letter = LETTER[choice.piece]
    out: Features = [(f"f:{letter}", 1.0)]
    if position.prepared and choice.uci in position.prepared:
        out.append(("f:prepared+", 1.0))
    known = position.known
    if known:
        count = known.get(choice.uci, 0)
        out.append(("f:book", math.log(count / sum(known.values()))) if count else ("f:book-", 1.0))
    if choice.captured:
        out += [("f:take", 1.0), ("f:gain", max(-_MOST_GAIN, min(_MOST_GAIN, choice.gain)))]
        if before is not None and before.captured and before.target == choice.target:
            out.append(("f:again", 1.0))
    elif choice.hang:
        out.append(("f:hang", min(choice.hang, _MOST_GAIN)))
    if choice.check:
        out.append(("f:check", 1.0))
    if choice.castling:
        out.append(("f:castle", 1.0))
    if choice.promotion:
        out.append(("f:promote", 1.0) if choice.promotion == chess.QUEEN else ("f:promote-", 1.0))
    return out + sense(choice, before, own, "f:")


Likely = tuple[float, Choice]


def likeliest(tree: Tree, node: int, score: Callable[[Features], float], most: int) -> list[Likely]:
    """The `most` likeliest moves at a node with the logarithms of their probabilities, best first."""
    choices: Sequence[Choice] = tree.position[node].choices
    if not choices:
        return []
    scored = [(score(unsaid_features(tree, node, choice)), choice) for choice in choices]
    top = max(value for value, _ in scored)
    total = top + math.log(sum(math.exp(value - top) for value, _ in scored))
    scored.sort(key=lambda o: (-o[0], o[1].uci))
    return [(value - total, choice) for value, choice in scored[:most]]
