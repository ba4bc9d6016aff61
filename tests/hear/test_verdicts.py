"""Verdicts found in words: the rules test themselves, and a set judged by hand says how often they are right."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path

import chess.pgn as pgn
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.hear.grammar import load_grammar
from lesson.hear.verdicts import EVEN_NAGS, MOVE_NAGS, SIDE_NAGS, find_verdicts
from tests.decoded import words

PART = "en-verdicts"
RULES = load_grammar(PART).rules
JUDGED = Path(__file__).with_name("judged.txt")


def judged() -> list[tuple[list[int], str]]:
    """The numbers expected and the sentence, one of each line."""
    lines = JUDGED.read_text(encoding="utf-8").splitlines()
    rows = [line.split("|") for line in lines if not line.startswith("#")]
    return [([int(nag) for nag in numbers.split()], text.strip()) for numbers, text in rows]


def nags(text: str) -> list[int]:
    return [verdict.nag for verdict in find_verdicts(text.split())]


def test_every_kind_of_the_grammar_has_a_number_and_the_other_way_round() -> None:
    kinds: dict[str, set[str]] = {}
    for rule in RULES:
        family, _, kind = rule.means.partition(":")
        kinds.setdefault(family, set()).add(kind)
    assert kinds["move"] == set(MOVE_NAGS)
    assert kinds["both"] == set(EVEN_NAGS)
    assert kinds["for"] == set(SIDE_NAGS)
    assert kinds["against"] <= set(SIDE_NAGS)


def test_the_judged_set_is_found_with_few_false_verdicts() -> None:
    rows = judged()
    right = false = missed = 0
    for expected, text in rows:
        wanted, found = Counter(expected), Counter(nags(text))
        right += (wanted & found).total()
        false += (found - wanted).total()
        missed += (wanted - found).total()
    assert len(rows) >= 60
    assert sum(not expected for expected, _ in rows) >= 30
    assert right / (right + false) >= 0.95
    assert right / (right + missed) >= 0.9


# PGN standard 1994, section 10: numbers and wording.
@pytest.mark.parametrize(
    ("text", "nag"),
    [
        ("e4, a good move.", 1),
        ("That's a mistake.", 2),
        ("That's brilliant.", 3),
        ("That's a blunder.", 4),
        ("The position is drawish.", 10),
        ("It's unclear.", 13),
        ("White is slightly better.", 14),
        ("Black is slightly better.", 15),
        ("White is clearly better.", 16),
        ("Black has a decisive advantage.", 19),
        ("Black has a crushing advantage.", 21),
        ("Black is in zugzwang.", 23),
        ("White has the initiative.", 36),
        ("Black has a lasting initiative.", 39),
        ("White has the attack.", 40),
        ("White has insufficient compensation.", 42),
        ("Black has sufficient compensation.", 45),
        ("White has more than adequate compensation.", 46),
        ("White has slight counterplay.", 130),
        ("Black has decisive counterplay.", 135),
    ],
)
def test_the_numbers_are_those_of_the_standard(text: str, nag: int) -> None:
    assert nags(text) == [nag]


def test_the_names_of_the_reference_library_agree() -> None:
    """python-chess names the same numbers (chess/pgn.py, NAG_*)."""
    assert MOVE_NAGS["good"] == pgn.NAG_GOOD_MOVE
    assert MOVE_NAGS["mistake"] == pgn.NAG_MISTAKE
    assert MOVE_NAGS["brilliant"] == pgn.NAG_BRILLIANT_MOVE
    assert MOVE_NAGS["blunder"] == pgn.NAG_BLUNDER
    assert MOVE_NAGS["interesting"] == pgn.NAG_SPECULATIVE_MOVE
    assert MOVE_NAGS["dubious"] == pgn.NAG_DUBIOUS_MOVE
    assert MOVE_NAGS["forced"] == pgn.NAG_FORCED_MOVE
    assert MOVE_NAGS["only"] == pgn.NAG_SINGULAR_MOVE
    assert MOVE_NAGS["worst"] == pgn.NAG_WORST_MOVE
    assert EVEN_NAGS["equal"] == pgn.NAG_DRAWISH_POSITION
    assert EVEN_NAGS["unclear"] == pgn.NAG_UNCLEAR_POSITION
    assert SIDE_NAGS["zugzwang"] == pgn.NAG_WHITE_ZUGZWANG
    assert SIDE_NAGS["counterplay"] == pgn.NAG_WHITE_MODERATE_COUNTERPLAY
    assert SIDE_NAGS["slight"] + 1 == pgn.NAG_BLACK_SLIGHT_ADVANTAGE
    assert SIDE_NAGS["winning"] + 1 == pgn.NAG_BLACK_DECISIVE_ADVANTAGE


def test_a_verdict_says_where_it_stands_and_what_it_is_about() -> None:
    text = "He went h6, which is a mistake, I think."
    (verdict,) = find_verdicts(text.split())
    assert (verdict.first, verdict.last, verdict.kind, verdict.side, verdict.target) == (3, 7, "mistake", "", "that")
    text = "If he goes h6, White is better here."
    (verdict,) = find_verdicts(text.split())
    assert (verdict.kind, verdict.side, verdict.target, verdict.given) == ("better", "w", "position", 0)


@given(st.lists(words, max_size=12))
def test_any_words_give_verdicts_in_order_within_the_talk(texts: list[str]) -> None:
    """Also between verdict words, where the search has most to do."""
    mixed = [word for text in texts for word in (text, "that's", "a", "mistake,", "White", "is", "better")]
    found = find_verdicts(mixed)
    assert all(0 <= v.first < v.last <= len(mixed) for v in found)
    assert all(a.last <= b.first for a, b in pairwise(found))


def test_no_verdict_without_words() -> None:
    assert find_verdicts([]) == []
