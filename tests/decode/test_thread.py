"""What the thread of the talk remembers: its habits, and whose side it is for."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from lesson.decode.thread import HABITS, Habits, habits_after, level, ours
from lesson.hear.phrase import Phrase

_SHARES = st.builds(Habits, *[st.floats(0, 1)] * 4)
_SQUARE, _NAME = Phrase(0, 1, "square"), Phrase(0, 1, "name")


def _after(times: int, phrase: Phrase, played: bool, filled: bool = False, jumped: bool = False) -> Habits:
    habits = HABITS
    for _ in range(times):
        habits = habits_after(habits, phrase, played, filled, jumped)
    return habits


@given(_SHARES, st.sampled_from([_SQUARE, _NAME, Phrase(0, 1, "take")]), st.booleans(), st.booleans(), st.booleans())
def test_habits_stay_shares(habits: Habits, phrase: Phrase, played: bool, filled: bool, jumped: bool) -> None:
    assert all(0 <= share <= 1 for share in habits_after(habits, phrase, played, filled, jumped))


def test_a_talk_that_leaves_moves_out_is_known_for_it() -> None:
    assert _after(8, _SQUARE, True, filled=True).fill > 0.5 > HABITS.fill
    assert _after(8, _SQUARE, True).fill < HABITS.fill


def test_names_count_for_names_and_squares_for_squares() -> None:
    assert _after(8, _NAME, False).name < HABITS.name < _after(8, _NAME, True).name
    assert _after(8, _NAME, False).idle == HABITS.idle
    assert _after(8, _SQUARE, True).idle < HABITS.idle < _after(8, _SQUARE, False).idle


@given(st.floats(0, 1))
def test_a_level_is_one_of_nine(share: float) -> None:
    assert level(share) in {k / 8 for k in range(9)}


def test_the_talk_is_for_the_side_of_i_we_and_you_and_against_him() -> None:
    assert ours(()) == 0
    assert ours((("we", 6, 0),)) == 2
    assert ours((("he", 6, 0), ("you", 0, 3))) == -2
    assert ours((("he", 2, 0), ("we", 2, 0))) == 0
