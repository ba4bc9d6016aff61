"""The word alignment: properties that always hold, and sentences of our own with the errors recognisers make."""

from __future__ import annotations

import time
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson import align
from lesson.align import align_words, map_range, spelled

WORDS = st.lists(
    st.sampled_from(
        ["e4", "four", "4", "knight", "night", "Night,", "takes", "-", "f6", "F6.", "before", "have", "six"]
    ),
    max_size=30,
)


def aligned(a: str, b: str) -> list[str]:
    heard = b.split()
    return [" ".join(heard[first:last]) for first, last in align_words(a.split(), heard)]


@given(WORDS)
def test_a_talk_aligns_with_itself_word_by_word(words: list[str]) -> None:
    assert align_words(words, words) == [(i, i + 1) for i in range(len(words))]


@given(WORDS, WORDS)
def test_ranges_are_one_for_each_word_inside_and_monotone(a: list[str], b: list[str]) -> None:
    ranges = align_words(a, b)
    assert len(ranges) == len(a)
    assert all(0 <= first <= last <= len(b) for first, last in ranges)
    assert all(p[0] <= q[0] and p[1] <= q[1] for p, q in pairwise(ranges))
    assert all(p[1] <= q[0] or p == q for p, q in pairwise(ranges)), "overlap without a join"


@given(WORDS, st.integers(0, 29), st.text("abcdefgh", min_size=1, max_size=9))
def test_one_misheard_word_disturbs_no_other(words: list[str], at: int, misheard: str) -> None:
    words = [f"w{i}{w}" for i, w in enumerate(words)]
    if at >= len(words):
        return
    heard = [*words[:at], misheard, *words[at + 1 :]]
    ranges = align_words(words, heard)
    assert [r for i, r in enumerate(ranges) if i != at] == [(i, i + 1) for i in range(len(words)) if i != at]


@given(WORDS, WORDS, WORDS)
def test_the_small_table_limit_changes_nothing_about_the_promises(a: list[str], b: list[str], c: list[str]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(align, "CELLS", 4)
        ranges = align_words(a + b, b + c)
    assert len(ranges) == len(a + b)
    assert all(p[0] <= q[0] and p[1] <= q[1] for p, q in pairwise(ranges))


@pytest.mark.parametrize(
    ("said", "heard", "want"),
    [
        ("Knight f6, knight c3", "Night F6, Night C3", ["Night", "F6,", "Night", "C3"]),
        ("move e5 now", "movie 5 now", ["movie", "5", "now"]),
        ("rook e1, b5, bishop b3", "rookie -1 -b -5 -bishop b -3", ["rookie", "-1", "-b -5", "-bishop", "b -3"]),
        ("rook e1 at once", "rookie one at once", ["rookie", "one", "at", "once"]),
        ("we castled kingside today", "we castled king side today", ["we", "castled", "king side", "today"]),
        ("the pawn to b4 hits him", "the pond before hits him", ["the", "pond", "", "before", "hits", "him"]),
        ("on move four we rest", "on move 4, we rest", ["on", "move", "4,", "we", "rest"]),
        ("on move 21 we rest", "on move twenty-one we rest", ["on", "move", "twenty-one", "we", "rest"]),
        ("knight f6 is natural", "I'd have six is natural", ["I'd", "six", "is", "natural"]),
        ("then queen h7 check", "then queen check", ["then", "queen", "", "check"]),
        ("then queen check", "then the queen, uh, check", ["then", "queen,", "check"]),
        ("e6 holds", "e cigs holds", ["e", "holds"]),
        ("bishop b5, a6, bishop a4", "bishop b -5, i -6, bishop i -4", ["bishop", "b -5,", "i -6,", "bishop", "i -4"]),
        ("bishop b -5, see -6", "bishop b5 c6", ["bishop", "b5", "b5", "c6", "c6"]),
        ("in 1923 he lost", "in nineteen twenty-three he lost", ["in", "nineteen twenty-three", "he", "lost"]),
    ],
)
def test_sentences_with_known_errors(said: str, heard: str, want: list[str]) -> None:
    assert aligned(said, heard) == want


def test_nothing_on_either_side() -> None:
    assert align_words([], ["e4"]) == []
    assert align_words(["e4", "e5"], []) == [(0, 0), (0, 0)]


def test_a_range_is_carried_over() -> None:
    said, heard = "So knight f6, knight c3 and bishop e7", "So I'd F6, night see three and e7"
    ranges = align_words(said.split(), heard.split())
    assert map_range(ranges, 1, 3) == (1, 3)
    assert map_range(ranges, 3, 5) == (3, 6)
    assert map_range(ranges, 5, 5) == (6, 6)
    assert map_range(ranges, 8, 8) == (8, 8)
    assert map_range([], 0, 0) == (0, 0)


@pytest.mark.parametrize(
    ("word", "want"),
    [("F6,", "fsix"), ("-3", "three"), ("seventy-one", "seventyone"), ("71", "seventyone"), ("1900", "nineteenhundred"),
     ("123", "onetwothree"), ("Läufer", "laufer"), ("—", "")],
)  # fmt: skip
def test_words_as_compared(word: str, want: str) -> None:
    assert spelled(word) == want


def test_three_hours_of_quite_different_words_stay_quick() -> None:
    said = [f"word{i % 977}" for i in range(27_000)]
    heard = [w if i % 3 else f"other{i}" for i, w in enumerate(said) if i % 11]
    start = time.perf_counter()
    ranges = align_words(said, heard)
    assert time.perf_counter() - start < 20
    hits = sum(last > first and heard[first] == said[i] for i, (first, last) in enumerate(ranges))
    assert hits > 0.99 * sum(w.startswith("word") for w in heard)
