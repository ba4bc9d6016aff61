"""WebVTT against the parsing section of the W3C text, "WebVTT: The Web Video Text Tracks Format" (w3c/webvtt,
index.bs). Section titles are named beside the checks; the timestamp tables and block cases were checked against the
expectations of the public web-platform-tests (webvtt/parsing/file-parsing)."""

from __future__ import annotations

import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from lesson.errors import ReadError
from lesson.model import Talk
from lesson.read import read_text
from lesson.read.draft import Flaws
from lesson.read.vtt import cues
from tests import transcripts
from tests.transcripts import Timed


def read(body: str) -> Talk:
    return read_text(f"WEBVTT\n\n{body}".encode(), "talk.vtt")


def said(talk: Talk) -> str:
    return " ".join(word.text for word in talk.words)


def cue(text: str) -> Talk:
    """The talk of one cue that lasts from 0 to 10 s."""
    return read(f"00:00.000 --> 00:10.000\n{text}\n")


# "Collect a WebVTT timestamp"
VALID = {
    "00:00.000": 0,
    "59:59.999": 3_599_999,
    "00:00:00.000": 0,
    "0:00:00.000": 0,
    "000:00:01.000": 1000,
    "60:00:00.000": 216_000_000,
    "123:04:05.678": 443_045_678,
}
INVALID = [
    "0:00.000",
    "0000:00.000",
    "00:0:00.000",
    "00:0000.000",
    "00:00:0.000",
    "00:00:00000",
    "00:00:00.00",
    "00:00:00.",
    "00:00:00",
    "00:00",
    "00",
    ":00.",
    ".",
    "60:00.000",
    "00:60.000",
    "00:60:00.000",
    "00:00:60.000",
    "00::00:00.000",
    "00:000:00.000",
    "00:00:000.000",
    "00:00:00..000",
    "00:00:00.0000",
    "000:00.000",
    "00:00:00,000",
    "-00:00:00.000",
    "０0:00:00.000",
    "00:00:00.0٠٠",
]


@pytest.mark.parametrize("stamp", VALID)
def test_valid_timestamps(stamp: str) -> None:
    found = list(cues(f"WEBVTT\n\n{stamp} --> 999:00:00.000\nx", Flaws()))
    assert [c.start_ms for c in found] == [VALID[stamp]]
    found = list(cues(f"WEBVTT\n\n00:00.000 --> {stamp}\nx", Flaws()))
    assert [c.end_ms for c in found] == [VALID[stamp]]


@pytest.mark.parametrize("stamp", INVALID)
def test_invalid_timestamps_make_no_cue(stamp: str) -> None:
    flaws = Flaws()
    text = f"WEBVTT\n\n{stamp} --> 00:01.000\nlost\n\n00:00.000 --> {stamp}\nlost\n\n00:00.000 --> 00:01.000\nkept"
    assert [c.text for c in cues(text, flaws)] == ["kept"]
    assert "(2x" in flaws.lines()[0]


def test_hours_of_any_number_of_digits_do_not_break_the_reader() -> None:
    assert read(f"{'9' * 5000}:00:00.000 --> 00:01.000\nx\n").words[0].text == "x"


# "Collect WebVTT cue timings and settings"
@pytest.mark.parametrize(
    "line", ["00:00.000-->00:01.000", "\t00:00.000 \f-->  00:01.000\t", "00:00.000 --> 00:01.000x"]
)
def test_space_around_the_arrow_is_free(line: str) -> None:
    assert [(c.start_ms, c.end_ms) for c in cues(f"WEBVTT\n\n{line}\nx", Flaws())] == [(0, 1000)]


def test_a_vertical_tab_is_no_space() -> None:
    assert list(cues("WEBVTT\n\n00:00.000\v-->\v00:01.000\nx", Flaws())) == []


@pytest.mark.parametrize(
    "settings", ["align:start", "line:-1 position:50%,line-left", "size:nonsense colour:red :", "::"]
)
def test_bad_settings_do_not_cost_the_cue(settings: str) -> None:
    assert said(read(f"00:00.000 --> 00:01.000 {settings}\ne4\n")) == "e4"


# "WebVTT file parsing": signature and header
@pytest.mark.parametrize(
    "first", ["WEBVTT", "WEBVTT talk of a club evening", "WEBVTT\tx", "\ufeffWEBVTT", "WEBVTT\nKind: x"]
)
def test_signatures(first: str) -> None:
    assert said(read_text(f"{first}\n\n00:00.000 --> 00:01.000\ne4\n".encode(), "talk.vtt", "vtt")) == "e4"


@pytest.mark.parametrize("first", ["WEBVTTx", "webvtt", " WEBVTT", "\nWEBVTT", "WEBVT", ""])
def test_wrong_signatures(first: str) -> None:
    with pytest.raises(ReadError, match="begins with the line WEBVTT"):
        read_text(f"{first}\n\n00:00.000 --> 00:01.000\ne4\n".encode(), "talk.vtt", "vtt")


def test_an_arrow_ends_the_header() -> None:
    assert said(read_text(b"WEBVTT\nKind: captions\n00:00.000 --> 00:01.000\ne4\n", "talk.vtt")) == "e4"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(end: str) -> None:
    text = "WEBVTT\n\n00:00.000 --> 00:01.000\ne4\ne5\n\n00:01.000 --> 00:02.000\nf4\n".replace("\n", end)
    talk = read_text(text.encode(), "talk.vtt")
    assert (said(talk), len(talk.cues)) == ("e4 e5 f4", 2)


def test_nul_becomes_the_replacement_character() -> None:
    talk = read_text(b"WEBVTT\n\n00:00.000 --> 00:01.000\n\0text\0 3\n", "talk.vtt")
    assert said(talk) == "\ufffdtext\ufffd 3"
    assert len(talk.flaws) == 1


# "Collect a WebVTT block"
def test_an_arrow_ends_a_cue_without_a_blank_line() -> None:
    times = "00:00.000 --> 00:01.000"
    text = (
        f"WEBVTT\n\n-->\n{times}\none\nfoo-->\n{times}\ntwo\n-->foo\n{times}\nthree\n--->\n{times}\nfour\n{times}\nfive"
    )
    assert [c.text for c in cues(text, Flaws())] == ["one", "two", "three", "four", "five"]


def test_the_line_before_the_timing_is_the_identifier_and_no_word() -> None:
    text = "WEBVTT\n\n4\n00:00.000 --> 00:01.000\ne\n\n \n00:01.000 --> 00:02.000\n4"
    assert [(c.id, c.text) for c in cues(text, Flaws())] == [("4", "e"), (" ", "4")]


def test_two_lines_before_the_timing_are_a_dropped_block_and_a_cue() -> None:
    talk = read("one\ntwo\n00:00.000 --> 00:01.000\ne4\n")
    assert said(talk) == "e4"
    assert 'line 3, "one two"' in talk.flaws[0]


def test_a_line_with_a_space_does_not_end_a_cue() -> None:
    assert said(read("00:00.000 --> 00:01.000\nd\n \n4\n")) == "d 4"


def test_words_after_a_blank_line_are_dropped_and_reported() -> None:
    talk = read("00:00.000 --> 00:01.000\nknight\n\nf3\n")
    assert said(talk) == "knight"
    assert "words are missing" in talk.flaws[0]
    assert '"f3"' in talk.flaws[0]


def test_notes_are_no_words_unless_their_second_line_is_a_timing() -> None:
    talk = read("NOTE secret\nmore\n\nNOTE\n00:00.000 --> 00:01.000\ne4\n\nNOTE\tx\n")
    assert (said(talk), talk.flaws) == ("e4", ())


def test_style_and_region_before_the_first_cue_are_no_words() -> None:
    talk = read("STYLE\n::cue { color: red }\n\nREGION \nid:a\nwidth:40%\n\n00:00.000 --> 00:01.000\ne4\n")
    assert (said(talk), talk.flaws) == ("e4", ())


def test_style_after_the_first_cue_or_with_text_behind_it_is_a_dropped_block() -> None:
    talk = read("STYLE x\nfoo\n\n00:00.000 --> 00:01.000\ne4\n\nSTYLE\n::cue {}\n")
    assert said(talk) == "e4"
    assert "(2x" in talk.flaws[0]


# "WebVTT cue text parsing rules" and its tokenizer
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("<b>e4</b> <i.loud>e5</i>", "e4 e5"),
        ("<c.yellow.bg_blue>knight</c>", "knight"),
        ("e<i>4</i>", "e4"),
        ("<unknown>kept</unknown> <>x", "kept x"),
        ("<ruby>e4<rt>king's pawn</rt></ruby>", "e4king's pawn"),
        ("<lang es>caballo</lang>", "caballo"),
        ("x &amp; y &lt;z&gt; &quot;q&quot; &copy;", 'x & y <z> "q" ©'),
        ("a&#32;b &#x41; &notit; &bogus;", "a b A ¬it; &bogus;"),
        ("AT&T rook & bishop &", "AT&T rook & bishop &"),
        ("e4 <b", "e4 <b"),
        ("if 3 < 4 then e4", "if 3 < 4 then e4"),
        ("x <v Bob and more words", "x <v Bob and more words"),
        ("<00:00:99.000>e4 <00:00:05>e5", "e4 e5"),
    ],
)
def test_tags_and_character_references(text: str, words: str) -> None:
    assert said(cue(text)) == words


def test_a_bracket_that_opens_no_tag_is_reported() -> None:
    assert "opens no tag" in cue("if 3 < 4 then e4").flaws[0]


@pytest.mark.parametrize(
    ("text", "voices"),
    [
        ("<v Ada>e4", [("e4", "Ada")]),
        ("<v.first.loud Ada  Kovač>e4</v> e5", [("e4", "Ada Kovač"), ("e5", None)]),
        ("<v Ada>e4</v>\n<v Bo &amp; Co>e5 f4", [("e4", "Ada"), ("e5 f4", "Bo & Co")]),
        ("<v Ada>e4 <v Bo>e5</v> f4</v> d4", [("e4", "Ada"), ("e5", "Bo"), ("f4", "Ada"), ("d4", None)]),
        ("<v Ada><i>e4</v> e5</i>", [("e4 e5", "Ada")]),
        ("<v Ada><ruby>e4<rt>x</ruby></v> e5", [("e4x", "Ada"), ("e5", None)]),
        ("<v>e4", [("e4", None)]),
        ("<vx Ada>e4", [("e4", None)]),
    ],
)
def test_voices(text: str, voices: list[tuple[str, str | None]]) -> None:
    talk = cue(text)
    assert [(" ".join(w.text for w in talk.words[c.first : c.last]), c.voice) for c in talk.cues] == voices


def test_inline_times() -> None:
    talk = cue("knight <00:00:04.000>takes <00:05.000>on <00:00:07.000> <00:00:08.000>e5")
    spans = [(word.text, word.start_ms, word.end_ms) for word in talk.words]
    assert spans == [("knight", 0, 4000), ("takes", 4000, 5000), ("on", 5000, 7000), ("e5", 8000, 10000)]


def test_an_inline_time_inside_a_word_does_not_split_it() -> None:
    assert [(w.text, w.start_ms, w.end_ms) for w in cue("e<00:00:04.000>4 e5").words] == [
        ("e4", 0, 5000),
        ("e5", 5000, 10000),
    ]


def test_words_share_their_cue_in_proportion_to_their_letters() -> None:
    assert [(w.start_ms, w.end_ms) for w in cue("e4 knight e5").words] == [(0, 2000), (2000, 8000), (8000, 10000)]


# An independent reader from PyPI, webvtt-py (MIT), on files within the grammar for writers. It leaves character
# references as they are, so the words of this test have none.
@given(talk=transcripts.talks(st.sampled_from(transcripts.CHESS)), size=st.integers(1, 9), inline=st.booleans())
def test_webvtt_py_reads_the_same(talk: list[Timed], size: int, inline: bool) -> None:
    text = transcripts.as_vtt(talk, size, inline)
    theirs = [(c.start, c.end, c.text) for c in webvtt.from_string(text).captions]
    ours = read_text(text.encode(), "talk.vtt")
    collected = list(cues(text, Flaws()))
    assert [(transcripts.clock(c.start_ms), transcripts.clock(c.end_ms)) for c in collected] == [t[:2] for t in theirs]
    assert [" ".join(w.text for w in ours.words[c.first : c.last]) for c in ours.cues] == [t[2] for t in theirs]


@given(name=st.sampled_from(["Ada", "Bo Berg", "X. Y."]), text=st.sampled_from(["e4", "knight f3"]))
def test_webvtt_py_hears_the_same_voice(name: str, text: str) -> None:
    body = f"00:00:00.000 --> 00:00:01.000\n<v {name}>{text}</v>\n"
    theirs = webvtt.from_string(f"WEBVTT\n\n{body}").captions[0]
    assert (read(body).cues[0].voice, said(read(body))) == (theirs.voice, theirs.text)
