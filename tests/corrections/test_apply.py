"""Corrections put into a talk, and what they do to the study."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson import pipeline
from lesson.corrections import Correction, Corrections, apply, correction_at, settled, unmet, unmet_flaws
from lesson.corrections.record import Kind
from lesson.corrections.words import substituted
from lesson.model import Cue, Decoded, Event, Fact, Node, Talk, Word

HEARD = st.lists(st.sampled_from(["near", "Near", "dwarf", "dwarf,", "(near", "neardwarf", "e4", "-"]), max_size=25)


def talk_of(text: str, timed: bool = True) -> Talk:
    words = tuple(Word(w, 500 * i, 500 * i + 400, 0.5) if timed else Word(w) for i, w in enumerate(text.split()))
    half = len(words) // 2
    cues = tuple(Cue(a, b) for a, b in ((0, half), (half, len(words))) if a < b)
    return Talk("t", "text", words, cues)


def texts(talk: Talk) -> list[str]:
    return [word.text for word in talk.words]


def made(**what: object) -> Correction:
    return Correction.model_validate({"id": "c1", **what})


def given_to(talk: Talk, *corrections: Correction) -> Corrections:
    return Corrections(corrections=corrections)


# ---------------------------------------------------------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("said", "heard", "meant", "becomes"),
    [
        ("the near dwarf, you know", "near dwarf", "Najdorf", "the Najdorf, you know"),
        ("Near dwarf near dwarf", "near dwarf", "Najdorf", "Najdorf Najdorf"),
        ("the neardwarf (near dwarf)", "near dwarf", "Najdorf", "the Najdorf (Najdorf)"),
        ("a caro can man", "caro can", "Caro-Kann", "a Caro-Kann man"),
        ("play night f3.", "night", "the knight", "play the knight f3."),
        ("nearly dwarf", "near dwarf", "Najdorf", "nearly dwarf"),
    ],
)
def test_misheard_words_are_replaced_everywhere_within_their_punctuation(
    said: str, heard: str, meant: str, becomes: str
) -> None:
    assert texts(substituted(talk_of(said), heard, meant)) == becomes.split()


@given(HEARD, st.sampled_from(["Najdorf", "the Najdorf line", "x y"]))
def test_a_replacement_keeps_times_cues_and_all_other_words(words: list[str], meant: str) -> None:
    talk = talk_of(" ".join(words))
    after = substituted(talk, "near dwarf", meant)
    assert [w for w in talk.words if w.text == "e4"] == [w for w in after.words if w.text == "e4"]
    starts = [w.start_ms for w in after.words if w.start_ms is not None]
    assert len(starts) == len(after.words)
    assert starts == sorted(starts)
    assert after.duration_ms == talk.duration_ms
    assert [i for cue in after.cues for i in range(cue.first, cue.last)] == list(range(len(after.words)))
    assert substituted(after, "near dwarf", meant) is after


def test_an_anchor_made_before_or_after_a_replacement_is_found_after_it() -> None:
    talk = talk_of("now the near dwarf with f3 and near dwarf with e5", timed=False)
    word = made(kind="word", text="near dwarf", becomes="Najdorf")
    before = correction_at(talk.words, 5, 6, "talk", "c2")
    replaced = substituted(talk, "near dwarf", "Najdorf")
    after = correction_at(replaced.words, 8, 9, "talk", "c3")
    applied = apply(talk, Corrections(corrections=(word, before, after)))
    assert applied.lost == ()
    assert [texts(applied.talk)[first] for first, _ in applied.places.values()] == ["f3", "e5"]


# ---------------------------------------------------------------------------------------------------------------- facts


def test_several_moves_share_out_the_words_of_one_breath() -> None:
    talk = talk_of("then takes takes and we both castled")
    moves = [correction_at(talk.words, 1, 3, "move", f"c{i}", move=m) for i, m in enumerate(["exd5", "cxd5"])]
    moves += [correction_at(talk.words, 6, 7, "move", f"d{i}", move="O-O") for i in range(2)]
    facts = apply(talk, given_to(talk, *moves)).facts
    assert [(f.first, f.last, f.san) for f in facts] == [
        (1, 2, "exd5"), (2, 3, "cxd5"), (6, 6, "O-O"), (6, 7, "O-O"),
    ]  # fmt: skip


def test_a_return_and_a_move_on_the_same_words_become_first_the_one_then_the_other() -> None:
    talk = talk_of("instead knight f3 here")
    back = correction_at(talk.words, 1, 3, "return", "c1", path=["e2e4"])
    move = correction_at(talk.words, 1, 3, "move", "c2", move="Nf6")
    assert [(f.means, f.first, f.last) for f in apply(talk, given_to(talk, back, move)).facts] == [
        ("return", 1, 1), ("move", 1, 3),
    ]  # fmt: skip


def test_moves_run_together_in_shared_words_keep_their_order_and_share_none() -> None:
    """As a recogniser wrote "Rook e1, bishop d6, h3, knight g4": each move has a part of words that others share."""
    talk = talk_of("back f-6-Rookie1-bishop d-6-h-3-night g-4-queen f-3")
    spans = [(1, 2, "Re1"), (1, 3, "Bd6"), (2, 3, "h3"), (2, 4, "Ng4"), (3, 5, "Qf3")]
    moves = [correction_at(talk.words, a, b, "move", f"c{a}{b}", move=san) for a, b, san in reversed(spans)]
    facts = apply(talk, given_to(talk, *moves)).facts
    assert [f.san for f in sorted(facts, key=lambda f: (f.first, f.last))] == [san for _, _, san in spans]
    assert all(a.last <= b.first for a, b in pairwise(facts))


def test_the_last_word_about_the_same_words_holds() -> None:
    talk = talk_of("maybe knight f3 here")
    move = correction_at(talk.words, 1, 3, "move", "c1", move="Nf3")
    no = correction_at(talk.words, 1, 3, "talk", "c2").model_copy(update={"words": None})
    assert [f.means for f in apply(talk, given_to(talk, move, no)).facts] == ["talk"]


def test_what_is_lost_is_a_flaw_of_the_talk_and_reaches_the_lesson() -> None:
    talk = talk_of("Let us begin with e4 e5 knight f3")
    gone = made(kind="move", text="queen takes everything", start_ms=900, move="Qxh7#")
    lesson, applied = pipeline.Rereader().lesson(talk, given_to(talk, gone))
    assert applied.lost == (gone,)
    assert any("queen takes everything" in f.message and "0:00" in f.message for f in lesson.findings)


# ------------------------------------------------------------------------------------------------------- after decoding


def told(*events: Event, sans: tuple[str, ...] = ("e4",)) -> Decoded:
    board = chess.Board()
    nodes = [Node(0, 0, -1, "", "", board.fen())]
    for san in sans:
        move = board.push_san(san)
        nodes.append(Node(len(nodes), 0, len(nodes) - 1, move.uci(), san, board.fen()))
    return Decoded(tuple(nodes), events, {}, ("Chapter 1",))


E4 = Event("play", 1, 2, 1, "e2e4", "e4")


@pytest.mark.parametrize(
    ("fact", "met"),
    [
        (Fact(1, 2, "move", san="e4"), True),
        (Fact(1, 2, "move", san="e2e4"), True),
        (Fact(1, 2, "move", san="d4"), False),
        (Fact(2, 3, "move", san="e4"), False),
        (Fact(1, 2, "talk"), False),
        (Fact(2, 3, "talk"), True),
        (Fact(3, 4, "return", path=("e2e4",)), True),
        (Fact(3, 4, "return", path=()), False),
        (Fact(3, 4, "chapter", fen=chess.STARTING_FEN), False),
    ],
)
def test_a_fact_the_tree_does_not_show_is_noticed(fact: Fact, met: bool) -> None:
    decoded = told(E4, Event("return", 3, 4, 1))
    assert (unmet([fact], decoded) == ()) is met


def test_a_move_put_in_its_place_is_to_be_found_there() -> None:
    """A return on no words, and the move right behind it, say together where the move is played."""
    decoded = told(
        E4, Event("return", 2, 2, 0), Event("return", 2, 2, 1), Event("play", 2, 3, 2, "e7e5", "e5"), sans=("e4", "e5")
    )
    pinned = [Fact(2, 2, "return", path=("e2e4",)), Fact(2, 3, "move", san="e5")]
    assert unmet(pinned, decoded) == ()
    astray = [Fact(2, 2, "return", path=()), Fact(2, 3, "move", san="e5")]
    assert unmet(astray, decoded) == (astray[1],)


def test_corrected_moves_and_silent_words_are_marked_as_such_and_titles_set() -> None:
    talk = talk_of("so e4 then maybe d4 or queen h5 there")
    corrections = given_to(
        talk,
        correction_at(talk.words, 1, 2, "move", "c1", move="e4"),
        correction_at(talk.words, 4, 5, "mention", "c2", move="d5"),
        correction_at(talk.words, 6, 8, "talk", "c3"),
        made(id="c4", kind="title", becomes="Quiet lines"),
        made(id="c5", kind="title", chapter=3, becomes="Nowhere"),
    )
    applied = apply(talk, corrections)
    d4, h5 = Event("mention", 4, 5, 1, "d7d6", "d6"), Event("talk", 6, 8, 1, reason="no legal move fits")
    decoded = settled(told(E4, d4, h5), applied)
    assert decoded.titles == ("Quiet lines",)
    assert [(e.act, e.san, e.origin) for e in decoded.events] == [
        ("play", "e4", "corrected"), ("mention", "d5", "corrected"),
    ]  # fmt: skip
    assert len(unmet_flaws(applied, decoded)) == 1
    assert "chapter 4" in unmet_flaws(applied, decoded)[0]


# ----------------------------------------------------------------------------------------------------- with the decoder

SPOKEN = "Let us begin with e4 e5 knight f3 knight c6 and then something bishop b5 a6"


def moves_of(lesson_talk: Talk, *corrections: Correction) -> list[str]:
    lesson, _ = pipeline.Rereader().lesson(lesson_talk, Corrections(corrections=corrections))
    return [move.san for chapter in lesson.chapters for move in chapter.moves]


def test_each_kind_does_to_the_study_what_it_says() -> None:
    talk = talk_of(SPOKEN)
    at = {word: i for i, word in enumerate(texts(talk))}

    def said(word: str, last: str, kind: Kind, **what: Any) -> Correction:
        return correction_at(talk.words, at[word], at[last] + 1, kind, "c1", **what)

    assert moves_of(talk) == ["e4", "e5", "Nf3", "Nc6", "Bb5", "a6"]
    assert moves_of(talk, said("bishop", "b5", "move", move="Bc4"))[4] == "Bc4"
    assert "a6" not in moves_of(talk, said("a6", "a6", "talk"))
    back = said("something", "something", "return", path=["e2e4", "e7e5"])
    lesson, _ = pipeline.Rereader().lesson(talk, given_to(talk, back))
    assert lesson.words[at["something"]].place.ref == lesson.chapters[0].moves[1].id
    assert lesson.findings == ()
    fen = "4k3/p7/8/8/8/8/8/4KB2 w - - 0 1"
    lesson, _ = pipeline.Rereader().lesson(talk, given_to(talk, said("something", "something", "chapter", fen=fen)))
    assert [(c.start_fen, [m.san for m in c.moves]) for c in lesson.chapters][1:] == [(fen, ["Bb5+"])]


def test_a_correction_no_position_allows_is_told() -> None:
    talk = talk_of(SPOKEN)
    lesson, _ = pipeline.Rereader().lesson(
        talk, given_to(talk, correction_at(talk.words, 14, 15, "move", "c1", move="O-O-O"))
    )
    assert any("O-O-O" in finding.message for finding in lesson.findings)


def test_whose_move_it_is_that_we_play_follows_who_we_are() -> None:
    talk = talk_of("e4, e5, knight f3, knight c6, bishop c4, bishop c5, d3, knight f6. Then we castle.")
    told = {}
    for side in ("w", "b"):
        lesson, applied = pipeline.Rereader().lesson(talk, given_to(talk, made(kind="side", person="We", side=side)))
        assert applied.sides == {"we": side}
        assert lesson.findings == ()
        told[side] = [move.uci for move in lesson.chapters[0].moves]
    assert "e1g1" in told["w"]
    assert "e1g1" not in told["b"]
    talk = talk_of("e4, c5, knight c3, knight c6, g3, g6. Then we play knight d4.")
    for side, plays in (("w", False), ("b", True)):
        lesson, _ = pipeline.Rereader().lesson(talk, given_to(talk, made(kind="side", person="we", side=side)))
        assert ("c6d4" in [move.uci for move in lesson.chapters[0].moves]) == plays


def test_the_side_of_a_name_is_kept_and_said_to_be_of_no_use() -> None:
    talk = talk_of(SPOKEN)
    lesson, applied = pipeline.Rereader().lesson(talk, given_to(talk, made(kind="side", person="Edda", side="b")))
    assert applied.sides == {"edda": "b"}
    (finding,) = lesson.findings
    assert finding.message.endswith("used for i, we, he, she and you, not for edda")


def test_no_corrections_change_nothing() -> None:
    talk = replace(talk_of(SPOKEN), flaws=("times run backwards",))
    applied = apply(talk, Corrections())
    assert (applied.talk, applied.facts, applied.lost) == (talk, (), ())
