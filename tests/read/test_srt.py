"""SubRip. There is no formal standard; the shape is that of matroska.org ("SRT Subtitles"), and pysubs2 (PyPI, MIT)
reads beside us on files where it keeps every word."""

from __future__ import annotations

import pysubs2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.model import Talk
from lesson.read import read_text
from tests import transcripts
from tests.transcripts import Timed

A, B, C = (f"00:00:0{i},000 --> 00:00:0{i + 1},000" for i in range(3))


def read(text: str) -> Talk:
    return read_text(text.encode(), "talk.srt", "srt")


def cues(talk: Talk) -> list[str]:
    return [" ".join(word.text for word in talk.words[cue.first : cue.last]) for cue in talk.cues]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (f"1\n{A}\ne\n\n2\n{B}\n4\n\n3\n{C}\nd5\n", ["e", "4", "d5"]),
        (f"1\n{A}\ne\n\n2\n{B}\n4\n3\n{C}\nd5\n", ["e", "4", "d5"]),
        (f"1\n{A}\ne\n4\n\n2\n{B}\nd5\n", ["e 4", "d5"]),
        (f"1\n{A}\ne\n\n4\n\n2\n{B}\nd5\n", ["e 4", "d5"]),
        (f"1\n{A}\nd5\n\n2\n{B}\n3\n\n3\n{C}\n4", ["d5", "3", "4"]),
        (f"1\n{A}\n2\n\n2\n{B}\n3\n", ["2", "3"]),
        (f"{A}\ne\n\n{B}\n4\n\n{C}\nd5\n", ["e", "4", "d5"]),
        (f"{A}\ne\n4\n{B}\n5\n{C}\nd5\n", ["e 4", "5", "d5"]),
        (f"1\n{A}\ne\n\n2\n{B}\nknight f\n3\n", ["e", "knight f 3"]),
        (f"1\n{A}\n\n2\n{B}\nd5\n", ["d5"]),
        (f"1\n{A}\nd5\n2\n{B}\nd6\n3\n{C}\nd7", ["d5", "d6", "d7"]),
    ],
)
def test_a_bare_number_is_a_word_where_it_is_no_cue_number(text: str, expected: list[str]) -> None:
    assert cues(read(text)) == expected


@given(texts=st.lists(st.from_regex(r"[0-9]{1,2}", fullmatch=True), min_size=1, max_size=12), numbered=st.booleans())
def test_cues_of_numbers_alone_keep_them(texts: list[str], numbered: bool) -> None:
    blocks = [
        (f"{i + 1}\n" if numbered else "")
        + f"{transcripts.clock(1000 * i, ',')} --> {transcripts.clock(1000 * i + 900, ',')}\n{text}\n"
        for i, text in enumerate(texts)
    ]
    assert cues(read("\n".join(blocks))) == texts


@pytest.mark.parametrize(
    ("text", "flaw"),
    [
        (f"1\n{A}\ne4\n\n3\n{B}\ne5\n", "do not follow each other"),
        (f"1\n{A}\ne4\n\n2\n{B}\n7\n{C}\nx\n", "kept as a word"),
        (f"1\n{A}\ne4\n\n2\n", "number of a missing cue"),
        (f"Club evening\n1\n{A}\ne4\n", "before the first cue"),
        (f"1\n{A}\nfrom e2 --> e4\n", "an arrow stands"),
    ],
)
def test_what_is_doubtful_is_said(text: str, flaw: str) -> None:
    assert any(flaw in line for line in read(text).flaws)


def test_text_that_could_be_lost_is_kept() -> None:
    assert cues(read(f"1\n{A}\ne4\n\n2\n{B}\n7\n{C}\nx\n")) == ["e4", "7", "x"]
    assert cues(read(f"1\n{A}\ne4\n\n2\n")) == ["e4 2"]
    assert cues(read(f"Club evening\n\n1\n{A}\ne4\n")) == ["Club evening", "e4"]
    assert cues(read(f"1\n{A}\nfrom e2 --> e4\n")) == ["from e2 --> e4"]


@pytest.mark.parametrize(
    ("line", "span"),
    [
        ("00:00:01,500 --> 00:00:02,500", (1500, 2500)),
        ("00:00:01.500 --> 00:00:02.500", (1500, 2500)),
        ("0:0:1,5 --> 0:0:2,50", (1500, 2500)),
        ("00:01,500-->00:02,500", (1500, 2500)),
        ("100:00:00,000 --> 100:00:01,000", (360_000_000, 360_001_000)),
        ("00:00:01,500 --> 00:00:02,500 X1:100 X2:200 Y1:300 Y2:400", (1500, 2500)),
    ],
)
def test_timing_lines(line: str, span: tuple[int, int]) -> None:
    cue = read(f"1\n{line}\ne4\n").cues[0]
    assert (cue.start_ms, cue.end_ms) == span


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('<i>e4</i> <B>e5</B> <font color="#ff0000">f4</font>', "e4 e5 f4"),
        ("{\\an8}e4", "e4"),
        ("3 < 4 <knight> {see}", "3 < 4 <knight> {see}"),
    ],
)
def test_markup(text: str, words: str) -> None:
    assert cues(read(f"1\n{A}\n{text}\n")) == [words]


@given(
    talk=transcripts.talks(st.sampled_from([w for w in transcripts.CHESS if not w.isdigit()])), size=st.integers(1, 9)
)
def test_pysubs2_reads_the_same(talk: list[Timed], size: int) -> None:
    text = transcripts.as_srt(talk, size)
    theirs = [(event.start, event.end, event.plaintext) for event in pysubs2.SSAFile.from_string(text, "srt")]
    ours = read(text)
    assert [(cue.start_ms, cue.end_ms, said) for cue, said in zip(ours.cues, cues(ours), strict=True)] == theirs
