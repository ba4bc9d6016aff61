"""Text with stamps, text without times, and encodings."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.model import Talk
from lesson.read import read_text
from lesson.settings import SPEECH_WORDS_PER_MINUTE
from tests.read.outcome import assert_read_or_refused


def read(text: str) -> Talk:
    return read_text(text.encode(), "talk.txt")


def texts(talk: Talk) -> list[str]:
    return [word.text for word in talk.words]


def test_a_block_lasts_until_the_next_stamp_and_the_last_as_long_as_speech() -> None:
    talk = read("[0:10] e4 e5\n\n[0:14] knight f3\n")
    assert talk.format == "stamps"
    assert [(w.start_ms, w.end_ms) for w in talk.words[:2]] == [(10_000, 12_000), (12_000, 14_000)]
    assert talk.duration_ms == 14_000 + 2 * 60_000 // SPEECH_WORDS_PER_MINUTE
    assert [(cue.first, cue.last) for cue in talk.cues] == [(0, 2), (2, 4)]


@pytest.mark.parametrize(
    ("stamp", "ms"),
    [("[0:05]", 5000), ("[12:34]", 754_000), ("[90:00]", 5_400_000), ("[1:02:03]", 3_723_000), ("[0:05.5]", 5500)],
)
def test_stamps(stamp: str, ms: int) -> None:
    assert read(f"{stamp} e4").words[0].start_ms == ms
    assert texts(read(f"{stamp}e4")) == ["e4"]


@pytest.mark.parametrize("text", ["[0:60] x", "[1:60:00] x", "[0:5] x", "[:05] x", "[laughs] x", "say [0:05] x"])
def test_what_is_no_stamp_is_a_word(text: str) -> None:
    talk = read(text)
    assert (talk.format, texts(talk)) == ("text", text.split())


def test_words_before_the_first_stamp_are_kept_just_before_it() -> None:
    talk = read("Club evening\n[1:00] e4\n[1:02] e5 [1:04] f4\n")
    assert texts(talk) == ["Club", "evening", "e4", "e5", "f4"]
    assert [word.end_ms for word in talk.words[1:4]] == [60_000, 62_000, 64_000]
    assert talk.words[0].start_ms == 60_000 - 2 * 60_000 // SPEECH_WORDS_PER_MINUTE


def test_plain_text_has_no_times_and_a_cue_for_each_paragraph() -> None:
    talk = read("# The *exchange*\n\n1. e4 c6\nd4 d5\n \t\n- takes\n")
    assert texts(talk) == ["#", "The", "*exchange*", "1.", "e4", "c6", "d4", "d5", "-", "takes"]
    assert [(cue.first, cue.last, cue.start_ms) for cue in talk.cues] == [(0, 3, None), (3, 8, None), (8, 10, None)]
    assert (talk.timed, talk.duration_ms) == (False, 0)


SENTENCE = "Señor Ibáñez – “e4”, e5, ½-½ naïve"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-32", "cp1252"])
def test_encodings(encoding: str) -> None:
    talk = read_text(SENTENCE.encode(encoding), "talk.txt")
    assert texts(talk) == SENTENCE.split()
    assert bool(talk.flaws) == (encoding == "cp1252")


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf_16_of_either_order(encoding: str) -> None:
    assert texts(read_text(("\ufeff" + SENTENCE).encode(encoding), "talk.txt")) == SENTENCE.split()


def test_one_stray_byte_does_not_spoil_the_rest() -> None:
    talk = read_text("Señor e4 ".encode() + b"caf\xe9", "talk.txt")
    assert texts(talk) == ["Señor", "e4", "café"]
    assert "(1x, first at byte 13)" in talk.flaws[0]


@given(data=st.binary(min_size=1, max_size=60))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    for format in ("vtt", "srt", "json", "ctm", "stamps", "text", None):
        assert_read_or_refused(data, format)
