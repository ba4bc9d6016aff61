"""Times that contradict each other are mended, in order, and said; times that agree are left alone."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.read import read_text
from lesson.read.times import longest_ordered, settle
from tests.transcripts import clock

Times = list[int | None]


def settled(starts: Times, ends: Times, weights: list[int] | None = None) -> tuple[list[tuple[int, int]], list[str]]:
    notes: list[str] = []
    spans = settle(starts, ends, weights or [1] * len(starts), lambda kind, _: notes.append(kind))
    return spans, notes


@pytest.mark.parametrize(
    ("starts", "ends", "spans", "note"),
    [
        ([0, 10, 20], [10, 20, 30], [(0, 10), (10, 20), (20, 30)], None),
        ([0, None, None, 30], [None, None, None, 40], [(0, 10), (10, 20), (20, 30), (30, 40)], None),
        ([0, None, 30], [10, None, 40], [(0, 10), (10, 30), (30, 40)], None),
        ([None, 1000], [None, 1100], [(600, 1000), (1000, 1100)], None),
        ([0, None], [100, None], [(0, 100), (100, 500)], None),
        ([0, 10], [20, 30], [(0, 10), (10, 30)], "overlap"),
        ([10, 40], [5, 50], [(10, 40), (40, 50)], "ends before it starts"),
        ([0, 90_000, 20, 30], [10, 90_010, 30, 40], [(0, 10), (10, 20), (20, 30), (30, 40)], "backwards"),
        ([0, 5, 20, 30], [10, 15, 30, 40], [(0, 5), (5, 15), (20, 30), (30, 40)], "overlap"),
        ([-20, 10], [10, 20], [(0, 10), (10, 20)], "before the start"),
        ([0, 10**15, 20], [10, 10**15, 30], [(0, 10), (10, 20), (20, 30)], "impossibly late"),
        ([7, 7, 7], [7, 7, 7], [(7, 7)] * 3, None),
    ],
)
def test_mending(starts: Times, ends: Times, spans: list[tuple[int, int]], note: str | None) -> None:
    found, notes = settled(starts, ends)
    assert found == spans
    assert bool(notes) == (note is not None)
    assert note is None or note in notes[0]


TIMES = st.none() | st.integers(-100, 1000)


@given(rows=st.lists(st.tuples(TIMES, TIMES, st.integers(1, 9)), min_size=1, max_size=30))
def test_spans_are_always_in_order(rows: list[tuple[int | None, int | None, int]]) -> None:
    starts, ends, weights = ([row[i] for row in rows] for i in range(3))
    spans, notes = settled(starts, ends, [weight or 1 for weight in weights])
    flat = [time for span in spans for time in span]
    assert len(spans) == len(rows)
    assert flat == sorted(flat)
    if not notes:
        assert all(start in (None, span[0]) for start, span in zip(starts, spans, strict=True))
        assert all(end in (None, span[1]) for end, span in zip(ends, spans, strict=True))


@given(values=st.lists(st.integers(0, 9), max_size=9))
def test_the_fewest_times_are_given_up(values: list[int]) -> None:
    kept = longest_ordered(values) if values else []
    chosen = [values[i] for i in kept]
    assert kept == sorted(set(kept))
    assert chosen == sorted(chosen)
    longer = combinations(values, len(kept) + 1) if len(kept) < len(values) else ()
    assert not any(list(choice) == sorted(choice) for choice in longer)


def test_one_line_for_each_kind_of_flaw_with_its_number_and_first_place() -> None:
    spans = [(0, 2000), (1000, 3000), (9000, 5000), (2500, 4000), (4000, 3500)]
    body = "".join(f"{clock(a)} --> {clock(b)}\nword{i} e4\n\n" for i, (a, b) in enumerate(spans))
    talk = read_text(f"WEBVTT\n\n{body}".encode(), "talk.vtt")
    assert len(talk.words) == 10
    assert len(talk.flaws) == len({flaw.split(" (")[0] for flaw in talk.flaws}) == 3
    assert any("overlap" in flaw and "(2x" in flaw for flaw in talk.flaws)
    assert any("backwards" in flaw and 'word 5, "word2"' in flaw for flaw in talk.flaws)
