"""Looking ahead, and the short cuts that make it affordable: they must not change what fits."""

from __future__ import annotations

import math

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lesson.decode.actions import Actor
from lesson.decode.ahead import Ahead
from lesson.decode.position import Position, Tree
from lesson.decode.thread import State
from lesson.decode.unsaid import likeliest
from lesson.decode.weights import load_weights
from lesson.hear import hear_talk
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import load_sounds
from tests.decode.test_decode import talk_of


def after(tree: Tree, *moves: str) -> int:
    node = tree.add_root(chess.Board())
    for san in moves:
        position = tree.position[node]
        node = tree.child(node, position.choice(position.board.parse_san(san)))
    return node


def test_a_node_from_which_the_next_phrases_can_be_played_promises_more() -> None:
    items = hear_talk(talk_of("knight c6, bishop b5, a6, bishop a4."), load_sounds())
    tree = Tree()
    actor = Actor(tree, load_weights())
    fits, misfits = after(tree, "e4", "e5", "Nf3"), after(tree, "d4", "d5", "Nf3")
    hopes = Ahead(actor, items, 3, 100.0).hopes(0, [fits, misfits])
    assert hopes[fits] > hopes[misfits]
    near = Ahead(actor, items, 3, 1.0).hopes(0, [fits, misfits])
    assert near[misfits] == pytest.approx(near[fits] - 1.0)
    assert Ahead(actor, items, 0, 5.0).hopes(0, [fits, misfits]) == {fits: 0.0, misfits: 0.0}


def test_a_move_may_be_missing_although_the_phrase_can_be_played_as_it_stands() -> None:
    items = hear_talk(talk_of("d5, knight goes out."), load_sounds())
    tree = Tree()
    actor, node = Actor(tree, load_weights()), after(tree, "d4", "Nf6", "Nf3", "c5")
    state = State(tree.line[node], node, tree.path(node), main=tree.line[node])
    for index, item in enumerate(items):
        assert isinstance(item, Phrase)
        actions = [a for a in actor.actions(index, item, state) if a.kind == "play"]
        assert any(len(a.moves) == 1 and a.parent == node for a in actions)
        assert any(len(a.moves) == 2 and a.named == 1 for a in actions)


@st.composite
def positions(draw: st.DrawFn) -> chess.Board:
    """A position reached by chance."""
    board = chess.Board()
    for _ in range(draw(st.integers(0, 60))):
        moves = sorted(board.legal_moves, key=str)
        if not moves:
            break
        board.push(draw(st.sampled_from(moves)))
    return board


@settings(max_examples=60, deadline=None)
@given(positions(), st.integers(0, 2**64 - 1))
def test_no_legal_move_is_missed_by_asking_only_for_some(board: chess.Board, squares: int) -> None:
    position = Position(board)
    for piece in (0, *chess.PIECE_TYPES):
        moves = [m for m in board.legal_moves if squares >> m.to_square & 1]
        moves = [m for m in moves if piece in (0, board.piece_type_at(m.from_square))]
        assert set(position.moves_to(piece, squares)) == set(moves)
        if moves:
            assert position.may_reach(piece, squares)
    assert {c.move for c in position.captures} == {m for m in board.legal_moves if board.is_capture(m)}
    assert all((choice.check > 0) == board.gives_check(choice.move) for choice in position.choices)
    assert {c.move for c in position.castlings} == {m for m in board.legal_moves if board.is_castling(m)}


@settings(max_examples=30, deadline=None)
@given(positions(), st.sampled_from(["knight f3", "bishop b5", "rook e1", "queen d4", "e4", "takes d5", "night g5"]))
def test_what_fits_cleanly_is_the_same_whichever_is_asked_first(board: chess.Board, words: str) -> None:
    phrase = hear_talk(talk_of(words), load_sounds())[0]
    assert isinstance(phrase, Phrase)
    found = []
    for all_first in (False, True):
        tree = Tree()
        actor, node = Actor(tree, load_weights()), tree.add_root(board)
        if all_first:
            actor.fits(0, phrase, node)
        found.append([(f.choice.uci, f.score) for f in actor.clean(0, phrase, node)])
    assert found[0] == found[1]


@settings(max_examples=20, deadline=None)
@given(positions())
def test_the_likeliest_unsaid_moves_are_legal_and_their_probabilities_add_up(board: chess.Board) -> None:
    tree = Tree()
    node = tree.add_root(board)
    found = likeliest(tree, node, load_weights(), 500)
    assert {choice.move for _, choice in found} == set(board.legal_moves)
    if found:
        assert sum(math.exp(value) for value, _ in found) == pytest.approx(1.0)
        assert [value for value, _ in found] == sorted((value for value, _ in found), reverse=True)


def test_a_recapture_is_likelier_unsaid_than_any_other_move() -> None:
    tree = Tree()
    node = after(tree, "e4", "e5", "Nf3", "Nc6", "Bb5", "a6", "Bxc6")
    best = likeliest(tree, node, load_weights(), 2)
    assert {choice.uci for _, choice in best} == {"d7c6", "b7c6"}
