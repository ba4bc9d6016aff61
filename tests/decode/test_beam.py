"""Which hypotheses the search keeps."""

from __future__ import annotations

from dataclasses import replace

import chess

from lesson.decode.actions import Action, Actor
from lesson.decode.beam import Beam, Width
from lesson.decode.position import Tree
from lesson.decode.thread import State
from lesson.decode.weights import load_weights
from lesson.hear.phrase import Phrase

PHRASE = Phrase(0, 1, "square")


def told(beam: Beam, state: State, *lines: str) -> tuple[State, list[int]]:
    """The hypothesis once it has told these lines (SAN) as well, and the last node of each."""
    tree, ends = beam.tree, []
    for line in lines:
        node = state.nodes[0]
        for san in line.split():
            position = tree.position[node]
            choice = position.choice(position.board.parse_san(san))
            state = beam.apply(state, PHRASE, Action("play", node, (choice,), 1, (), 0.0))
            node = tree.child(node, choice)
        ends.append(node)
    return state, ends


def move_at(tree: Tree, node: int, san: str) -> Action:
    position = tree.position[node]
    return Action("play", node, (position.choice(position.board.parse_san(san)),), 1, (), 0.0)


def test_the_same_move_after_another_is_another_reading() -> None:
    tree = Tree()
    beam = Beam(tree, Actor(tree, load_weights()), Width())
    state, (rook, king) = told(beam, beam.first(), "e4 e5 Nf3 Nc6", "e4 e5 Nf3 d6")
    one, two = (beam.apply(state, PHRASE, move_at(tree, node, "d4")) for node in (rook, king))
    assert one.recent != two.recent
    again = beam.apply(replace(state, score=-1.0), PHRASE, move_at(tree, rook, "d4"))
    assert one.recent == again.recent


def test_of_hypotheses_that_differ_only_long_ago_some_are_kept() -> None:
    tree = Tree()
    for spare, kept in ((0, 1), (2, 3), (12, 4)):
        beam = Beam(tree, Actor(tree, load_weights()), Width(memory=2, spare=spare, per_cursor=48))
        beam.attend([])
        begun, alike = beam.first(), []
        for rank, first in enumerate(("a3", "b3", "c3", "d3")):
            state, _ = told(beam, begun, f"{first} a6 h3 h6")
            alike.append(replace(state, score=-float(rank)))
        out = beam.prune(alike, 48, 1)
        assert [state.score for state in out] == [-float(rank) for rank in range(kept)]
        assert all(tree.position[s.cursor].board.turn == chess.WHITE for s in out)
