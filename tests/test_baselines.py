"""The baselines do what they promise, so that beating them means something."""

from __future__ import annotations

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.model import Decoded, Talk, Word
from tests.accuracy.gold import SAMPLES, load_gold
from tests.accuracy.score import score_tree
from tests.baselines import greedy, literal


def talk(words: str) -> Talk:
    return Talk("t", "text", tuple(Word(word) for word in words.split()), ())


def line(decoded: Decoded) -> str:
    return " ".join(node.san for node in decoded.nodes[1:])


@pytest.mark.parametrize(
    ("said", "want"),
    [
        ("So e4, e5, knight f3 and knight to c6.", "e4 e5 Nf3 Nc6"),
        ("e4 e5 knight f3 knight c6 bishop b5 a6 bishop takes c6", "e4 e5 Nf3 Nc6 Bb5 a6 Bxc6"),
        ("e4 d5 e takes d5 queen takes on d5", "e4 d5 exd5 Qxd5"),
        ("E4, e5, Knight f3, knight f6, bishop c4, bishop c5. White castles and Black castles",
         "e4 e5 Nf3 Nf6 Bc4 Bc5 O-O O-O"),
        ("d4 d5 knight c3 knight c6 bishop f4 bishop f5 queen d2 queen d7 castles queenside, castles long",
         "d4 d5 Nc3 Nc6 Bf4 Bf5 Qd2 Qd7 O-O-O O-O-O"),
        ("knight f5 is impossible, e4 is not, queen h6 neither", "e4"),
        ("nothing of the kind", ""),
    ],
)  # fmt: skip
def test_the_literal_reader(said: str, want: str) -> None:
    assert line(literal(talk(said))) == want


def test_the_literal_reader_knows_its_words() -> None:
    events = literal(talk("So e4, e5, then knight to f3 comes")).events
    assert [(e.first, e.last) for e in events] == [(1, 2), (2, 3), (4, 7)]


@pytest.mark.parametrize(
    ("said", "want"),
    [
        ("So e4, e5, Night F3 and night C6.", "e4 e5 Nf3 Nc6"),
        ("e four e five the queen to h5", "e4 e5 Qh5"),
        ("e4 d5 takes, queen takes", "e4 d5 exd5 Qxd5"),
        ("nothing of the kind", ""),
    ],
)
def test_the_greedy_matcher(said: str, want: str) -> None:
    assert line(greedy(talk(said))) == want


@given(
    st.lists(
        st.sampled_from(["e4", "e5", "knight", "f3", "takes", "castles", "a", "d4,", "queen", "—", ""]), max_size=20
    )
)
def test_both_always_return_a_legal_line_over_words_in_order(words: list[str]) -> None:
    for baseline in (literal, greedy):
        decoded = baseline(Talk("t", "text", tuple(Word(word) for word in words), ()))
        board = chess.Board()
        for node in decoded.nodes[1:]:
            board.push_uci(node.uci)
            assert node.fen == board.fen()
        assert all(0 <= e.first < e.last <= len(words) for e in decoded.events)
        assert all(a.last <= b.first for a, b in zip(decoded.events, decoded.events[1:], strict=False))


def test_on_a_sample_they_are_poor_but_not_useless() -> None:
    gold = load_gold(SAMPLES / "marshall-attack")
    for baseline in (literal, greedy):
        assert 0.1 < score_tree(gold.pgn, baseline(talk(" ".join(gold.words)))).f1 < 0.6
