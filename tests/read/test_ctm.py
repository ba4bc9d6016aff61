"""CTM as NIST describes it (usnistgov/SCTK, doc/infmts.htm, "ctm - Definition of time marked conversation scoring
input"): columns, comments, alternations, and scores that are no probabilities in its own example."""

from __future__ import annotations

from lesson.model import Talk
from lesson.read import read_text


def read(text: str) -> Talk:
    return read_text(text.encode(), "talk", "ctm")


def test_columns_comments_and_blank_lines() -> None:
    talk = read_text(b";; talk of an evening\n\n7 A 11.34 0.2  e4 0.9\n 7\tA 12.00 0.34 e5 1\n;;\n", "talk")
    assert talk.format == "ctm"
    assert [(w.text, w.start_ms, w.end_ms, w.probability) for w in talk.words] == [
        ("e4", 11340, 11540, 0.9),
        ("e5", 12000, 12340, 1.0),
    ]
    assert talk.flaws == ()


def test_scores_that_are_no_probabilities_are_left_alone() -> None:
    talk = read("7 A 11.34 0.2 e4 -6.763\n7 A 12.00 0.34 e5 0.5\n")
    assert [word.probability for word in talk.words] == [None, None]
    assert "not within 0..1" in talk.flaws[0]


def alternation(*branches: str) -> str:
    return "7 A * * <ALT_BEGIN>\n" + "7 A * * <ALT>\n".join(branches) + "7 A * * <ALT_END>\n"


def test_alternatives_of_one_word() -> None:
    talk = read("7 A 1 0.5 knight\n" + alternation("7 A 2 0.5 d5\n", "7 A 2 0.5 b5\n", "7 A 2 0.5 e5\n"))
    assert [(w.text, w.others, w.start_ms) for w in talk.words] == [("knight", (), 1000), ("d5", ("b5", "e5"), 2000)]


def test_alternatives_of_as_many_words_stand_word_by_word() -> None:
    talk = read(alternation("7 A 1 0.5 before\n7 A 2 0.5 c4\n", "7 A 1 0.5 b4\n7 A 2 0.5 d4\n"))
    assert [(w.text, w.others) for w in talk.words] == [("before", ("b4",)), ("c4", ("d4",))]


def test_alternatives_of_other_lengths_are_phrases_at_the_first_word() -> None:
    talk = read(alternation("7 A 1 0.5 before\n", "7 A 1 0.2 b\n7 A 1.2 0.3 four\n", ""))
    assert [(w.text, w.others) for w in talk.words] == [("before", ("b four",))]


def test_an_empty_first_alternative_is_a_null_word() -> None:
    assert [(w.text, w.others) for w in read(alternation("", "7 A 1 0.5 um\n")).words] == [("um", ())]


def test_an_open_alternation_is_closed_and_said() -> None:
    talk = read("7 A * * <ALT_BEGIN>\n7 A 1 0.5 d5\n7 A * * <ALT>\n7 A 1 0.5 b5\n")
    assert [(w.text, w.others) for w in talk.words] == [("d5", ("b5",))]
    assert "not closed" in talk.flaws[0]
    assert "out of place" in read("7 A * * <ALT_END>\n7 A 1 0.5 d5\n").flaws[0]


def test_channels_are_merged_by_time_and_become_voices() -> None:
    talk = read("7 A 1 0.5 e4\n7 A 3 0.5 f4\n7 B 2 0.5 e5\n")
    assert [word.text for word in talk.words] == ["e4", "e5", "f4"]
    assert [cue.voice for cue in talk.cues] == ["A", "B", "A"]
    assert talk.flaws == ()


def test_lines_that_are_off_are_said() -> None:
    talk = read("7 A 1 0.5 e4\n7 A 2 0.5\n7 A soon 0.5 e5\n7 A 4 0.5 f4\n")
    assert [word.text for word in talk.words] == ["e4", "e5", "f4"]
    assert len(talk.flaws) == 2
