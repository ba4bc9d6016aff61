"""Recogniser JSON. The field names and the leading spaces of words are those of openai/whisper (whisper/timing.py);
the other spellings are common practice, no source."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.model import Talk
from lesson.read import read_text
from tests import transcripts
from tests.read.outcome import assert_read_or_refused
from tests.transcripts import Timed


def read(value: object) -> Talk:
    return read_text(json.dumps(value).encode(), "talk.json")


def words(talk: Talk) -> list[tuple[str, int | None, int | None]]:
    return [(word.text, word.start_ms, word.end_ms) for word in talk.words]


def texts(talk: Talk) -> list[str]:
    return [word.text for word in talk.words]


E4 = {"start": 1.0, "end": 1.5, "word": " e4,", "probability": 0.25}
E5 = {"start": 1.5, "end": 2.0, "word": " e5", "probability": 0.5}
SAID = [("e4,", 1000, 1500), ("e5", 1500, 2000)]


@pytest.mark.parametrize(
    "value",
    [
        {"text": " e4, e5", "segments": [{"id": 0, "start": 1.0, "end": 2.0, "text": " e4, e5", "words": [E4, E5]}]},
        {"segments": [{"start": 1.0, "end": 2.0, "words": [E4, E5]}]},
        {"segments": [{"start": 1.0, "end": 2.0, "text": " e4, e5"}], "words": [E4, E5]},
        {"segments": [{"start": 1, "end": 1.5, "text": "e4,"}, {"start": 1.5, "end": 2, "text": "e5"}]},
        [{"start": 1.0, "end": 2.0, "text": " e4, e5", "words": [E4, E5]}],
        [E4, E5],
        {"words": [E4, E5]},
        {"result": [{**E4, "conf": 0.25}, E5], "text": "e4, e5"},
        {"chunks": [{"timestamp": [1.0, 1.5], "text": " e4,"}, {"timestamp": [1.5, 2.0], "text": " e5"}]},
        [{"text": "e4,", "start_time": "1.0", "end_time": "1.5"}, {"text": "e5", "start_time": "1.5", "end_time": "2"}],
    ],
)
def test_layouts(value: object) -> None:
    assert words(read(value)) == SAID
    assert read(value).flaws == ()


def test_json_lines() -> None:
    lines = "\n".join(json.dumps({"result": [word]}) for word in (E4, E5))
    talk = read_text(lines.encode(), "talk.json")
    assert (words(talk), len(talk.cues)) == (SAID, 2)


@pytest.mark.parametrize("key", ["probability", "confidence", "conf"])
def test_spellings_of_probability(key: str) -> None:
    assert [w.probability for w in read([{"word": "e4", "start": 0, "end": 0.5, key: 0.25}]).words] == [0.25]


def test_scores_outside_0_to_1_are_no_probabilities() -> None:
    talk = read([{**E4, "probability": -0.5}, E5])
    assert [word.probability for word in talk.words] == [None, None]
    assert "not within 0..1" in talk.flaws[0]


def test_a_segment_without_words_shares_its_time() -> None:
    assert words(read({"segments": [{"start": 1, "end": 2.0, "text": "e4 knight"}]})) == [
        ("e4", 1000, 1250),
        ("knight", 1250, 2000),
    ]


def test_a_word_with_inner_space_is_split_and_shares_its_time_and_probability() -> None:
    talk = read([{"word": "queen's gambit d4", "start": 0, "end": 1.5, "probability": 0.5}])
    assert words(talk) == [("queen's", 0, 700), ("gambit", 700, 1300), ("d4", 1300, 1500)]
    assert {word.probability for word in talk.words} == {0.5}


def test_parts_of_a_word_are_joined_as_the_text_joins_them() -> None:
    parts = [
        {"word": " Caro", "start": 0, "end": 0.5, "probability": 0.9},
        {"word": "-Kann,", "start": 0.5, "end": 1, "probability": 0.4},
    ]
    for value in ({"segments": [{"text": " Caro-Kann,", "words": parts}]}, [E4, *parts]):
        last = read(value).words[-1]
        assert (last.text, last.probability) == ("Caro-Kann,", 0.4)


def test_words_without_the_text_s_punctuation_give_it_their_times() -> None:
    bare = [{"word": "e4", "start": 1, "end": 1.5}, {"word": "E5", "start": 1.5, "end": 2.0}]
    talk = read({"segments": [{"text": "e4, - e5!", "words": bare}]})
    assert [(w.text, w.start_ms) for w in talk.words if w.text != "-"] == [("e4,", 1000), ("e5!", 1500)]
    assert talk.flaws == ()


def test_a_word_missing_from_the_word_list_is_kept_and_said() -> None:
    talk = read({"segments": [{"start": 1, "end": 4.0, "text": " e4, then e5", "words": [E4, E5]}]})
    assert texts(talk) == ["e4,", "then", "e5"]
    assert (talk.words[0].start_ms, talk.words[2].start_ms) == (1000, 1500)
    assert "differ" in talk.flaws[0]


def test_a_word_missing_from_the_text_is_kept_and_said() -> None:
    talk = read({"segments": [{"start": 1, "end": 4.0, "text": " e4,", "words": [E4, E5]}]})
    assert words(talk) == SAID
    assert "hold more" in talk.flaws[0]


@pytest.mark.parametrize("nothing", [None, "", "soon", True, [], float("nan"), float("inf"), 1e300, 10**400])
def test_times_that_are_no_times_are_estimated(nothing: object) -> None:
    middle = {"word": " takes", "start": nothing, "end": nothing}
    last = {"word": " d5", "start": 3.0, "end": 3.5}
    assert words(read([E4, middle, last])) == [("e4,", 1000, 1500), ("takes", 1500, 3000), ("d5", 3000, 3500)]


def test_no_time_at_all_is_a_talk_without_times() -> None:
    talk = read([{"word": "e4", "start": None}, {"word": "e5"}])
    assert not talk.timed
    assert words(talk) == [("e4", None, None), ("e5", None, None)]


def test_milliseconds_are_told_by_their_size() -> None:
    talk = read([{"word": "e4", "start": 1000, "end": 1500}, {"word": "e5", "start": 1500, "end": 2000}])
    assert [span[1:] for span in words(talk)] == [(1000, 1500), (1500, 2000)]
    assert "milliseconds" in talk.flaws[0]
    assert read({"segments": [{"start": 0, "end": 30, "text": "e4"}]}).duration_ms == 30_000


def test_the_speaker_is_the_voice() -> None:
    assert [cue.voice for cue in read({"segments": [{"text": "e4 e5", "speaker": "Ada"}]}).cues] == ["Ada"]


def test_numbers_for_words_are_words() -> None:
    assert texts(read([{"word": 4, "start": 0, "end": 1}])) == ["4"]


def test_half_a_surrogate_pair_can_be_written_afterwards() -> None:
    talk = read_text(b'[{"word": "e4\\ud83d", "start": 0, "end": 1}]', "talk.json")
    assert texts(talk) == ["e4\ufffd"]
    assert talk.flaws


def test_entries_without_words_are_reported() -> None:
    talk = read([E4, {"start": 1, "end": 2, "word": None}, E5])
    assert words(talk) == SAID
    assert "no text" in talk.flaws[0]


@given(
    talk=transcripts.talks(),
    size=st.integers(1, 9),
    bare=st.booleans(),
    keys=st.tuples(st.sampled_from(["word", "text"]), st.sampled_from(["probability", "confidence", "conf"])),
)
def test_every_spelling_gives_the_same_words(talk: list[Timed], size: int, bare: bool, keys: tuple[str, str]) -> None:
    text = transcripts.as_json(talk, size, bare=bare, text_key=keys[0], chance_key=keys[1])
    read_back = read_text(text.encode(), "talk.json")
    assert words(read_back) == talk
    assert {word.probability for word in read_back.words} == {0.75}


VALUES = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers(-10, 10**6) | st.sampled_from(["e4", " e5 takes", "", "1.5"]),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["segments", "words", "result", "text", "word", "start", "end", "timestamp", "conf"]), inner
        )
    ),
    max_leaves=20,
)


@given(value=VALUES)
def test_any_json_is_read_or_refused(value: object) -> None:
    assert_read_or_refused(json.dumps(value).encode(), "json")
