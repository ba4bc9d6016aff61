"""What is said of a move right behind it, asked of the board the move would make: a claim that is true there speaks for
the move, one that is false against it."""

from __future__ import annotations

from lesson.decode.fit import Features
from lesson.decode.position import Choice
from lesson.hear.phrases import Phrase
from lesson.judge.claims import judge
from lesson.judge.scene import Scene


def claim_features(phrase: Phrase, choice: Choice) -> Features:
    """One feature for each claim that the board confirms or denies, by what is claimed, and one for all of them."""
    board = choice.board.copy(stack=False)
    board.push(choice.move)
    scene = Scene(board, choice.board, choice.move)
    out: Features = []
    for claim in phrase.claims:
        truth = judge(claim, scene).truth
        if truth != "undecidable":
            sign = "+" if truth == "true" else "-"
            out += [(f"claim{sign}", 1.0), (f"claim{sign}={claim.kind}", 1.0)]
    return out
