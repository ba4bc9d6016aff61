"""How likely a move is before anyone says it: what a listener takes for granted where the speaker leaves a move out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import chess

from lesson.decode.fit import Features
from lesson.decode.position import LETTER, Choice, Tree

_MOST_GAIN = 5.0
_OPENING = 15  # moves; a rule of thumb for when men are still being brought out


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
    _stands(out, choice, before, own)
    if choice.piece == chess.PAWN:
        _pawn(out, choice)
    return out


def _stands(out: Features, choice: Choice, before: Choice | None, own: Choice | None) -> None:
    """Where the man comes from: home, just moved, just attacked."""
    board = choice.board
    home = 0 if board.turn else 7
    minor = choice.piece in (chess.KNIGHT, chess.BISHOP)
    if minor and choice.source // 8 == home and board.fullmove_number <= _OPENING:
        out.append(("f:develop", 1.0))
    if own is not None and own.target == choice.source:
        out.append(("f:same", 1.0))
        if own.source == choice.target:
            out.append(("f:undo", 1.0))
    if before is not None and choice.piece > 1 and board.attacks_mask(before.target) >> choice.source & 1:
        out.append(("f:flees", 1.0))
    if choice.piece > 1 and not choice.castling and not choice.captured:
        forward = (choice.target // 8 - choice.source // 8) * (1 if board.turn else -1)
        if forward < 0:
            out.append(("f:back", 1.0))


def _pawn(out: Features, choice: Choice) -> None:
    board = choice.board
    attacked = chess.BB_PAWN_ATTACKS[board.turn][choice.target] & board.occupied_co[not board.turn]
    if attacked & ~board.pawns:
        out.append(("f:kick", 1.0))
    elif attacked:
        out.append(("f:lever", 1.0))
    if abs(choice.target - choice.source) == 16:
        out.append(("f:two", 1.0))


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
