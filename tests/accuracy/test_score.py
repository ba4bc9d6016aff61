"""The tree score on trees small enough to count by hand, and the trust figures."""

from __future__ import annotations

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.model import Decoded, Event, Node
from lesson.settings import FLAG_BELOW
from tests.accuracy.score import calibration_error, forest_of_pgn, score_tree, score_trust

ENDING = '[SetUp "1"]\n[FEN "8/8/4k3/8/4K3/4P3/8/8 w - - 0 1"]\n\n'


def told(*sans: str, confidence: float = 1.0) -> Decoded:
    """One line from the initial position."""
    board = chess.Board()
    nodes, events = [Node(0, 0, -1, "", "", board.fen())], []
    for i, san in enumerate(sans):
        move = board.push_san(san)
        nodes.append(Node(i + 1, 0, i, move.uci(), san, board.fen()))
        events.append(Event("play", i, i + 1, i + 1, move.uci(), san, confidence=confidence))
    return Decoded(tuple(nodes), tuple(events))


def test_counts_by_path() -> None:
    # true: e4 e5 Nf3 Nc6 and e4 c5. Written: e4 and e5 right, Nc3 wrong, and Nc6 below it wrong too
    score = score_tree("1. e4 e5 (1... c5) 2. Nf3 Nc6 *", "1. e4 e5 2. Nc3 Nc6 *")
    assert (score.said, score.said_hit, score.written, len(score.right)) == (5, 2, 4, 2)
    assert (score.recall, score.precision) == (0.4, 0.5)
    assert score.f1 == pytest.approx(2 * 0.4 * 0.5 / 0.9)


def test_the_answer_of_the_decoder_scores_as_its_pgn_does() -> None:
    gold = "1. e4 e5 2. Nf3 Nc6 *"
    assert score_tree(gold, told("e4", "e5", "Nf3", "d6")) == score_tree(gold, "1. e4 e5 2. Nf3 d6 *")


def test_games_with_one_start_are_one_tree_and_starts_are_kept_apart() -> None:
    gold = f"1. e4 e5 *\n\n{ENDING}1. Kd4 Kd6 *\n\n1. e4 c5 *"
    assert sorted(sum(1 for _ in tree.below()) for tree in forest_of_pgn(gold).values()) == [2, 3]
    assert score_tree(gold, "1. e4 e5 (1... c5) *").said_hit == 3
    assert score_tree(gold, f"{ENDING}1. Kd4 Kd6 *").said_hit == 2
    assert score_tree("1. e4 *", f"{ENDING}1. Kd4 *").right == frozenset()


def test_the_order_of_sidelines_does_not_matter() -> None:
    assert score_tree("1. e4 (1. d4 d5) e5 *", "1. d4 (1. e4 e5) d5 *").f1 == 1


def test_an_unspoken_move_may_be_any_move_if_what_follows_fits() -> None:
    gold = "1. e4 a6 {unspoken} 2. d4 h6 {unspoken} *"
    fits = score_tree(gold, "1. e4 b6 2. d4 *")
    assert (fits.said, fits.said_hit, fits.unsaid, fits.unsaid_hit, fits.written, len(fits.right)) == (2, 2, 2, 1, 3, 3)
    nothing_follows = score_tree(gold, "1. e4 b6 *")
    assert (nothing_follows.unsaid_hit, len(nothing_follows.right)) == (0, 1)
    wrong_follows = score_tree(gold, "1. e4 b6 2. c4 *")
    assert (wrong_follows.said_hit, len(wrong_follows.right)) == (1, 1)


def test_an_unspoken_move_takes_the_written_move_that_fits_best() -> None:
    gold = "1. e4 a6 {unspoken} 2. d4 d6 3. c4 *"
    score = score_tree(gold, "1. e4 b6 (1... c6 2. d4 d6 3. c4) 2. d4 *")
    assert (score.said_hit, score.unsaid_hit, score.written, len(score.right)) == (4, 1, 7, 5)


def test_named_moves_count_for_precision_only() -> None:
    score = score_tree("1. e4 c6 {named} 2. d4 *", "1. e4 c6 *")
    assert (score.said, score.said_hit, score.unsaid_hit, len(score.right)) == (2, 1, 1, 2)


def test_nothing_written_scores_nothing() -> None:
    score = score_tree("1. e4 *", Decoded((), ()))
    assert (score.recall, score.precision, score.f1) == (0, 0, 0)


@given(st.lists(st.integers(0, 30), max_size=40))
def test_a_tree_scores_full_marks_against_itself(choices: list[int]) -> None:
    board, sans = chess.Board(), []
    for choice in choices:
        moves = sorted(board.legal_moves, key=chess.Move.uci)
        if not moves:
            break
        sans.append(board.san(moves[choice % len(moves)]))
        board.push(moves[choice % len(moves)])
    pgn = " ".join(sans) + " *"
    score = score_tree(pgn, told(*sans))
    assert (score.said_hit, len(score.right)) == (len(sans), len(sans)) == (score.said, score.written)


def test_silent_errors_flags_and_open_phrases() -> None:
    answer = told("e4", "e5", "Nc3", "Nc6", confidence=0.99)
    events = (
        *answer.events[:3],
        Event("play", 3, 4, 4, "b8c6", "Nc6", confidence=FLAG_BELOW - 0.1),
        Event("point", 4, 6, 4),
        Event("talk", 6, 9, 4, reason="fits no legal move"),
        Event("talk", 9, 12, 4),
    )
    answer = Decoded(answer.nodes, events)
    trust = score_trust(answer, score_tree("1. e4 e5 2. Nf3 Nc6 *", answer))
    assert (trust.written, trust.silent, trust.silent_first, trust.flagged, trust.unresolved) == (4, 1, 1, 1, 2)
    assert trust.trials == ((0.99, True), (0.99, True), (0.99, False), (FLAG_BELOW - 0.1, False))


def test_what_follows_a_wrong_move_is_wrong_but_not_first() -> None:
    answer = told("d4", "d5", "c4")
    trust = score_trust(answer, score_tree("1. e4 d5 2. c4 *", answer))
    assert (trust.silent, trust.silent_first) == (3, 1)


def test_calibration_error() -> None:
    # by hand: bin of 0.95: |1/2 - .95| = .45, of 0.25: |1/4 - .25| = 0; weighted by 2 and 4 of 6
    trials = [(0.95, True), (0.95, False), *[(0.25, i == 0) for i in range(4)]]
    assert calibration_error(trials) == pytest.approx(0.15)
    assert calibration_error([(1.0, True)]) == 0
    assert calibration_error([]) == 0
