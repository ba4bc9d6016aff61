"""No word of a talk is lost or changed, whatever the format, and the times it comes with are in order."""

from __future__ import annotations

import pytest
from hypothesis import given

from lesson.model import Talk
from lesson.read import FORMATS, read_text
from tests import transcripts
from tests.transcripts import BUILDERS, Timed


def words(talk: Talk) -> list[str]:
    return [word.text for word in talk.words]


def assert_in_order(talk: Talk) -> None:
    """All words timed, spans in order and without overlap; cues cover the words and have their times."""
    spans = [(word.start_ms, word.end_ms) for word in talk.words]
    flat = [time for span in spans for time in span]
    assert flat == sorted(time for time in flat if time is not None)
    assert [index for cue in talk.cues for index in range(cue.first, cue.last)] == list(range(len(talk.words)))
    for cue in talk.cues:
        assert (cue.start_ms, cue.end_ms) == (talk.words[cue.first].start_ms, talk.words[cue.last - 1].end_ms)


def test_every_format_has_a_builder() -> None:
    assert set(BUILDERS) == {row.name for row in FORMATS}


@pytest.mark.parametrize("format", BUILDERS)
@given(talk=transcripts.talks())
def test_the_words_of_every_format_are_the_words_said(format: str, talk: list[Timed]) -> None:
    read = read_text(BUILDERS[format](talk).encode(), "talk", format)
    assert words(read) == transcripts.said(talk)
    if format != "text":
        assert_in_order(read)


@given(talk=transcripts.talks(transcripts.wild_words()))
def test_webvtt_json_and_text_keep_words_of_any_characters(talk: list[Timed]) -> None:
    for format, text in (
        ("vtt", transcripts.as_vtt(talk, size=3)),
        ("vtt", transcripts.as_vtt(talk, inline=True)),
        ("json", transcripts.as_json(talk, size=3)),
        ("json", transcripts.as_json(talk, words=False, bare=True)),
        ("json", transcripts.as_word_list(talk)),
        ("text", transcripts.as_text(talk)),
    ):
        assert words(read_text(text.encode(), "talk", format)) == transcripts.said(talk)


@given(talk=transcripts.talks())
def test_word_times_are_the_file_s_own(talk: list[Timed]) -> None:
    for text in (transcripts.as_json(talk), transcripts.as_word_list(talk), transcripts.as_ctm(talk)):
        read = read_text(text.encode(), "talk", "json" if text.startswith("{") else "ctm")
        assert [(word.text, word.start_ms, word.end_ms) for word in read.words] == talk
        assert read.flaws == ()


@given(talk=transcripts.talks())
def test_inline_times_of_webvtt_are_the_starts_of_the_words(talk: list[Timed]) -> None:
    read = read_text(transcripts.as_vtt(talk, inline=True).encode(), "talk.vtt")
    assert [(word.text, word.start_ms) for word in read.words] == [(word, start) for word, start, _ in talk]


@given(talk=transcripts.talks())
def test_interpolated_times_stay_inside_their_cue(talk: list[Timed]) -> None:
    for text, format in ((transcripts.as_vtt(talk, 5), "vtt"), (transcripts.as_srt(talk, 5), "srt")):
        read = read_text(text.encode(), "talk", format)
        cues = [(block[0][1], block[-1][2]) for block in transcripts.groups(talk, 5)]
        assert [(cue.start_ms, cue.end_ms) for cue in read.cues] == cues


@pytest.mark.parametrize("format", BUILDERS)
def test_the_format_is_found_by_content(format: str) -> None:
    talk = [(word, 500 * i, 500 * i + 400) for i, word in enumerate(transcripts.CHESS)]
    for name in ("talk", "talk.txt", "talk.vtt", "talk.json"):
        if format != "text" or name in ("talk", "talk.txt"):
            assert read_text(BUILDERS[format](talk).encode(), name).format == format
