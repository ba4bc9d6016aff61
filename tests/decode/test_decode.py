"""Small talks of our own through the whole decoder: the tree told, and what must hold of any talk."""

from __future__ import annotations

import gc

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lesson.decode import decode
from lesson.model import Cue, Decoded, Fact, Talk, Word


def talk_of(text: str) -> Talk:
    words = tuple(Word(w) for w in text.split())
    return Talk("ours", "text", words, (Cue(0, len(words)),))


def lines(decoded: Decoded) -> set[str]:
    """Every line to a leaf, in SAN."""
    parents = {n.parent for n in decoded.nodes}
    out = set()
    for node in decoded.nodes:
        if node.id in parents or node.parent < 0:
            continue
        line, at = [], node
        while at.parent >= 0:
            line.append(at.san)
            at = decoded.nodes[at.parent]
        out.add(" ".join(reversed(line)))
    return out


TOLD = [
    ("Let us begin. e4, e5, knight f3, knight c6, bishop b5.", {"e4 e5 Nf3 Nc6 Bb5"}),
    ("e4, e5, night f3, night c6, bishop c4, bishop c5, castles.", {"e4 e5 Nf3 Nc6 Bc4 Bc5 O-O"}),
    ("d4, d5, c4, d takes c4, e3, b5, a4.", {"d4 d5 c4 dxc4 e3 b5 a4"}),
    ("e4, d5, takes, takes, knight c3.", {"e4 d5 exd5 Qxd5 Nc3"}),
    (
        "d4, d5, c4, e6, knight c3, knight f6. Back to c4. If Black plays c6, then knight f3, knight f6.",
        {"d4 d5 c4 e6 Nc3 Nf6", "d4 d5 c4 c6 Nf3 Nf6"},
    ),
]


@pytest.mark.parametrize(("text", "told"), TOLD, ids=[t[:30] for t, _ in TOLD])
def test_the_tree_is_what_was_told(text: str, told: set[str]) -> None:
    assert lines(decode(talk_of(text))) == told


def test_a_dictated_position_opens_a_chapter() -> None:
    text = "White: king g1, rook e1, pawns f2, g2, h2. Black: king g8, pawns f7, g7, h7. White to move. Rook e8, mate."
    decoded = decode(talk_of(text))
    assert decoded.nodes[0].fen.startswith("6k1/5ppp/8/8/8/8/5PPP/4R1K1 w")
    assert lines(decoded) == {"Re8#"}


def test_a_square_looked_at_names_no_move_to_another_that_sounds_like_it() -> None:
    decoded = decode(talk_of("E4, c6, d4, d5, exd5, cxd5, knight f3, knight c6, sniffing at d4. Bishop b5, bishop g4."))
    seen = [event for event in decoded.events if event.act == "mention"]
    assert [(event.uci, event.san) for event in seen] == [("", "")]
    assert lines(decoded) == {"e4 c6 d4 d5 exd5 cxd5 Nf3 Nc6 Bb5 Bg4"}


def test_a_plan_is_not_played() -> None:
    decoded = decode(talk_of("e4, e5, knight f3, knight c6, bishop c4. Please never play knight g5 in one day."))
    assert all(node.san != "Ng5" for node in decoded.nodes) or any(
        event.san == "Ng5" and event.confidence < 0.6 for event in decoded.events
    )


CHESS_WORDS = [
    "knight",
    "bishop",
    "rook",
    "queen",
    "king",
    "pawn",
    "takes",
    "check",
    "mate",
    "castles",
    "e4",
    "d5",
    "c3",
    "f6",
    "before",
    "night",
    "four",
    "a",
    "8",
    "back",
    "to",
    "instead",
    "of",
    "if",
    "white",
    "black",
    "he",
    "i",
    "move",
    "nine",
    "sorry",
    "both",
    "sides",
    "the",
    "other",
    "with",
    "on",
    "from",
    "start",
    "game",
    "line",
    "two",
    "exchange",
    "comes",
    "off,",
    "b7.",
    "c6,",
]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(CHESS_WORDS), min_size=1, max_size=40))
def test_whatever_is_said_the_answer_is_a_legal_tree_over_the_words(words: list[str]) -> None:
    decoded = decode(talk_of(" ".join(words)))
    for node in decoded.nodes:
        board = chess.Board(node.fen)
        assert board.is_valid()
        if node.parent >= 0:
            before = chess.Board(decoded.nodes[node.parent].fen)
            move = chess.Move.from_uci(node.uci)
            assert move in before.legal_moves
            assert before.san(move) == node.san
            before.push(move)
            assert before.fen() == node.fen
    end = (0, 0)
    for event in decoded.events:
        assert 0 <= event.first <= event.last <= len(words)
        assert 0 <= event.confidence <= 1
        assert event.first >= end[1] or (event.first, event.last) == end or event.first == event.last
        if event.first < event.last:
            end = (event.first, event.last)


def test_the_same_talk_gives_the_same_answer() -> None:
    talk = talk_of(TOLD[4][0])
    assert decode(talk) == decode(talk)


def test_the_search_leaves_the_memory_keeper_as_it_found_it() -> None:
    for collects in (False, True):
        (gc.enable if collects else gc.disable)()
        try:
            decode(talk_of("e4, e5, knight f3."))
            assert gc.isenabled() == collects
        finally:
            gc.enable()


def test_an_opening_of_one_side_is_not_played_against_another_first_move() -> None:
    told = lines(decode(talk_of("We start d4. The Sicilian I have given up. Black answers d5, and now c4.")))
    assert told == {"d4 d5 c4"}


def test_a_talk_without_chess_is_an_empty_study() -> None:
    decoded = decode(talk_of("The kettle boiled and everybody went out into the garden to look for the cat."))
    assert len(decoded.nodes) == 1


def test_a_fact_is_never_overruled_and_a_pinned_place_holds() -> None:
    talk = talk_of("So e4, e5, knight f3, knight c6, now bishop b5, a6.")
    at = [w.text for w in talk.words].index("bishop")

    def told(*facts: Fact) -> set[str]:
        return lines(decode(talk, facts=facts))

    assert any(line.startswith("e4 e5 Nf3 Nc6 Bc4") for line in told(Fact(at, at + 2, "move", san="Bc4")))
    assert not any("Bb5" in line for line in told(Fact(at, at + 2, "talk")))
    pinned = told(Fact(at, at, "return", path=("e2e4", "e7e5")), Fact(at, at + 2, "move", san="f1b5"))
    assert any(line.startswith("e4 e5 Bb5") for line in pinned)
    assert not any(line.startswith("e4 e5 Nf3 Nc6 Bb5") for line in pinned)


INSTEAD = [
    (
        "e4, c6. d4, d5. White takes on d5, Black takes back. Instead of recapturing, Black can also play knight f6.",
        {"e4 c6 d4 d5 exd5 cxd5", "e4 c6 d4 d5 exd5 Nf6"},
    ),
    (
        "d4, d5. C4, e6. Knight c3, knight f6. White can also play knight f3 instead of knight c3, and then knight f6.",
        {"d4 d5 c4 e6 Nc3 Nf6", "d4 d5 c4 e6 Nf3 Nf6"},
    ),
]


@pytest.mark.parametrize(("text", "told"), INSTEAD)
def test_what_is_said_instead_of_a_move_stands_beside_it(text: str, told: set[str]) -> None:
    assert lines(decode(talk_of(text))) == told


def test_a_move_not_heard_is_filled_in_and_marked() -> None:
    text = "e4, e5. Knight f3, knight c6. Bishop b5, mumbled something. Bishop a4, knight f6. Castles, bishop e7."
    decoded = decode(talk_of(text))
    assert lines(decoded) == {"e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7"}
    filled = [event.san for event in decoded.events if event.origin == "inferred"]
    assert filled == ["a6"]


@pytest.mark.parametrize("heard", ["p4", "b4"])
def test_a_misheard_square_of_a_dictated_position_is_righted_by_a_move_told_later(heard: str) -> None:
    """The moves told first can be played wherever the knight stands; only the last says that it stood on d4."""
    talk = (
        f"White has the king on g1 and a knight on {heard}. Black has the king on g7 and a pawn on f7. White to move. "
        "King f2, king f6, king f3, king e5, knight b5, king d5, knight c7 check."
    )
    decoded = decode(talk_of(talk))
    assert [n.fen.split()[0] for n in decoded.nodes if n.parent < 0] == ["8/5pk1/8/8/3N4/8/8/6K1"]
    assert lines(decoded) == {"Kf2 Kf6 Kf3 Ke5 Nb5 Kd5 Nc7+"}
