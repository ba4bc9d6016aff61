"""What a phrase can do: where it may go on, and how its actions count together."""

from __future__ import annotations

import math
from dataclasses import replace

import chess
import pytest

from lesson.decode import actions
from lesson.decode.actions import Action, Actor
from lesson.decode.position import Tree
from lesson.decode.thread import State
from lesson.decode.weights import load_weights
from lesson.hear.phrases import Phrase

LINE = ("e4", "c5", "Nf3", "d6", "d4", "Nf6", "dxc5", "Nxe4", "cxd6", "Nxd6")


def _stand() -> tuple[Actor, State]:
    """At the end of a line."""
    tree = Tree()
    path = [tree.add_root(chess.Board())]
    for san in LINE:
        position = tree.position[path[-1]]
        path.append(tree.child(path[-1], position.choice(position.board.parse_san(san))))
    mask = sum(1 << node for node in path)
    return Actor(tree, load_weights()), State(mask, path[-1], tuple(path), main=mask)


def _places(actor: Actor, state: State, phrase: Phrase) -> set[int]:
    return {action.parent for action in actor.actions(0, phrase, state) if action.kind == "play"}


def test_what_is_not_done_is_not_played() -> None:
    actor, state = _stand()
    his_bishop = Phrase(0, 2, "piece", piece="B")
    assert _places(actor, state, his_bishop)
    assert not _places(actor, state, replace(his_bishop, ref="undone"))


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_a_share_of_what_all_actions_promise_is_taken_from_each(share: float, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(actions, "SHARED", share)
    before = [Action("none", -1, (), 0, (), score) for score in (3.0, 2.0, -700.0)]
    after = actions._shared(before)
    total = [math.log(sum(math.exp(action.score) for action in found)) for found in (before, after)]
    assert total[1] == pytest.approx((1 - share) * total[0])
    assert [a.score - b.score for a, b in zip(before, after, strict=True)] == pytest.approx([share * total[0]] * 3)
