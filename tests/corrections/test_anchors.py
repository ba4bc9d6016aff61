"""Anchors are found again where the words still are, and nowhere else."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from lesson.align import align_words, map_range, spelled
from lesson.corrections import correction_at
from lesson.corrections.anchors import Anchor, Places
from lesson.model import Talk, Word
from lesson.read import read_talk
from tests.accuracy.gold import SAMPLES, load_gold

# Everyday words, none like another: a place is then known by its words alone.
_SPOKEN = """
apple river window sugar ladder monkey pencil garden thunder velvet basket quiet forest marble lemon copper
drizzle engine feather goblet harbour insect jungle kettle mirror nutmeg orchard pigeon quarry ribbon umbrella
vinegar whistle yellow
"""
DISTINCT = _SPOKEN.split()


def talk_of(words: list[str], timed: bool = True, shift_ms: int = 0) -> Talk:
    """A word every 400 ms, about the rate of speech."""
    made = tuple(
        Word(text, 400 * i + shift_ms, 400 * i + shift_ms + 300) if timed else Word(text)
        for i, text in enumerate(words)
    )
    return Talk("t", "text", made, ())


def anchor_at(talk: Talk, first: int, last: int) -> Anchor:
    return correction_at(talk.words, first, last, "talk", "c1").anchor


def found(talk: Talk, anchor: Anchor) -> tuple[int, int] | None:
    return Places(talk).find_all([anchor])[0]


@st.composite
def talks_with_a_range(draw: st.DrawFn) -> tuple[list[str], int, int]:
    words = draw(st.permutations(DISTINCT))
    first = draw(st.integers(0, len(words) - 1))
    return list(words), first, draw(st.integers(first, min(len(words), first + 4)))


@given(st.lists(st.sampled_from(["e4", "takes", "knight", "f3", "-", "…"]), min_size=1, max_size=30), st.data())
def test_in_an_unchanged_talk_every_place_is_found_as_it_was(words: list[str], data: st.DataObject) -> None:
    """Even where the same words are said again and again."""
    first = data.draw(st.integers(0, len(words)))
    last = data.draw(st.integers(first, len(words)))
    for timed in (True, False):
        talk = talk_of(words, timed)
        assert found(talk, anchor_at(talk, first, last)) == (first, last)


@given(talks_with_a_range(), st.integers(-20_000, 20_000), st.booleans())
def test_a_shift_of_all_times_moves_no_anchor(case: tuple[list[str], int, int], shift_ms: int, timed: bool) -> None:
    words, first, last = case
    assume(first < last)
    anchor = anchor_at(talk_of(words, timed), first, last)
    assert found(talk_of(words, timed, max(0, shift_ms)), anchor) == (first, last)


@given(talks_with_a_range(), st.data())
def test_words_added_dropped_and_misheard_elsewhere_move_the_anchor_with_its_words(
    case: tuple[list[str], int, int], data: st.DataObject
) -> None:
    words, first, last = case
    assume(first < last)
    anchor = anchor_at(talk_of(words), first, last)
    head, tail = words[: max(0, first - 3)], words[last + 3 :]
    again = data.draw(st.lists(st.sampled_from(["well", "hmm", "indeed", *head]), max_size=len(head) + 3))
    after = data.draw(st.lists(st.sampled_from(["well", "hmm", "indeed", *tail]), max_size=len(tail) + 3))
    middle = words[max(0, first - 3) : last + 3]
    place = len(again) + min(3, first)
    assert found(talk_of([*again, *middle, *after]), anchor) == (place, place + last - first)


@given(talks_with_a_range())
def test_words_that_are_gone_are_lost_and_not_put_elsewhere(case: tuple[list[str], int, int]) -> None:
    words, first, last = case
    assume(first < last)
    anchor = anchor_at(talk_of(words), first, last)
    assert found(talk_of([*words[: max(0, first - 3)], *words[last + 3 :]]), anchor) is None


@given(talks_with_a_range(), st.sampled_from([lambda w: w[1:], lambda w: f"{w[:-2]} {w[-2:]}", lambda w: w + "ish"]))
def test_a_word_heard_otherwise_is_known_by_its_neighbours_and_time(
    case: tuple[list[str], int, int], mishear: Callable[[str], str]
) -> None:
    words, first, _ = case
    assume(first < len(words))
    heard = mishear(words[first]).split()
    again = [*words[:first], *heard, *words[first + 1 :]]
    assert found(talk_of(again), anchor_at(talk_of(words), first, first + 1)) == (first, first + len(heard))


def test_of_two_equal_places_neither_is_taken_when_nothing_tells_them_apart() -> None:
    talk = talk_of(["he", "takes", "the", "pawn", "and", "she", "takes", "the", "rook"], timed=False)
    assert found(talk, Anchor("takes the")) is None
    assert found(talk, Anchor("takes the", after="rook")) == (6, 8)


def test_of_two_equal_places_the_one_nearer_in_time_is_taken() -> None:
    talk = talk_of(["he", "takes", "the", "pawn", "and", "she", "takes", "the", "rook"])
    assert found(talk, Anchor("takes the", start_ms=600)) == (1, 3)
    assert found(talk, Anchor("takes the", start_ms=2200)) == (6, 8)


def test_the_next_move_is_not_taken_for_one_that_is_no_longer_heard() -> None:
    """d5 is gone from the new transcript; d4, which is spelled much like it, is another move."""
    old = talk_of(["then", "comes", "knight", "c6", "and", "d5", "was", "played", "before", "d4", "at", "last"])
    new = talk_of(["then", "comes", "knight", "c6", "and", "was", "played", "before", "d4", "at", "last"])
    place = found(new, anchor_at(old, 5, 6))
    assert place is None or new.words[place[0]].text != "d4"


def test_marks_survive_another_recogniser() -> None:
    """The marked stretches of a sample, anchored in what recogniser A heard, found in what B heard of the same speech.

    B read a recording at another speed; for the second count its times are put on A's clock, as a re-made transcript of
    the same recording has them. Where each stretch should be is told by aligning both transcripts with the true words.
    """
    gold = load_gold(SAMPLES / "marshall-attack")
    a, b = (read_talk(gold.files()[version]) for version in ("heard-a", "heard-b"))
    true_a, true_b = (align_words(gold.words, [w.text for w in talk.words]) for talk in (a, b))
    stretches = [(map_range(true_a, *s.words), map_range(true_b, *s.words)) for s in gold.spans]
    stretches = [(x, y) for x, y in stretches if x[0] < x[1]]
    anchors = [anchor_at(a, *x) for x, _ in stretches]
    for talk in (b, on_the_clock_of(a, b)):
        places = Places(talk).find_all(anchors)
        right = sum(
            p is not None and p[0] <= y[1] and y[0] <= p[1] for p, (_, y) in zip(places, stretches, strict=True)
        )
        wrong = sum(p is not None for p in places) - right
        assert right >= 0.85 * len(stretches)
        assert wrong <= 0.01 * len(stretches)


def on_the_clock_of(a: Talk, b: Talk) -> Talk:
    """`b` with the times at which `a` has the words both heard alike."""
    ranges = align_words([w.text for w in a.words], [w.text for w in b.words])
    pairs = [
        (b.words[j].start_ms or 0, a.words[i].start_ms or 0)
        for i, (j, k) in enumerate(ranges)
        if k == j + 1 and spelled(a.words[i].text) == spelled(b.words[j].text)
    ]
    xs, ys = zip(*pairs, strict=True)
    return replace(b, words=tuple(replace(w, start_ms=int(np.interp(w.start_ms or 0, xs, ys))) for w in b.words))
