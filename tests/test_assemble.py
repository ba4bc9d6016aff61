"""From the decoder's answer to the lesson: ids, order, places, comments, questions."""

from __future__ import annotations

from typing import Any

import chess
from hypothesis import HealthCheck, given, settings

from lesson.assemble import assemble
from lesson.model import Comment, Cue, Decoded, Event, Lesson, Node, Rival, Talk, Word
from lesson.settings import ASK_BELOW, FLAG_BELOW
from tests.decoded import ENDGAME, told
from tests.write.made import lesson_of, said, tree_of

SURE = FLAG_BELOW
UNSURE = ASK_BELOW - 0.01

thorough = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


def play(node: int, first: int, last: int, nodes: tuple[Node, ...], **rest: Any) -> Event:
    return Event("play", first, last, node, nodes[node].uci, nodes[node].san, **rest)


def texts(lesson: Lesson) -> list[tuple[str | None, str]]:
    return [(comment.at, comment.text) for comment in lesson.comments]


def kinds(lesson: Lesson) -> str:
    """First letters of where the words went."""
    return "".join(word.place.kind[0] for word in lesson.words)


# ----------------------------------------------------------------------------------------------------------- properties


def records(lesson: Lesson) -> dict[str, set[str]]:
    """The ids each kind of place may refer to."""
    moves = {move.id for chapter in lesson.chapters for move in chapter.moves}
    chapters = {chapter.id for chapter in lesson.chapters}
    return {
        "move": moves,
        "comment": {record.id for record in lesson.comments},
        "mention": {record.id for record in lesson.mentions},
        "navigation": moves | chapters,
        "position": chapters,
        "unresolved": {record.id for record in lesson.unresolved},
    }


@thorough
@given(told())
def test_every_word_is_accounted_for(pair: tuple[Talk, Decoded]) -> None:
    talk, decoded = pair
    lesson = assemble(talk, decoded)
    assert len(lesson.words) == len(talk.words)
    known = records(lesson)
    for heard, word in zip(talk.words, lesson.words, strict=True):
        assert word.text == heard.text.replace("\ud800", "\ufffd")
        assert (word.start_ms, word.end_ms) == (heard.start_ms, heard.end_ms)
        assert word.place.ref in known[word.place.kind]


@thorough
@given(told())
def test_comments_in_order_and_bare_moves_between_them_are_the_talk(pair: tuple[Talk, Decoded]) -> None:
    lesson = assemble(*pair)
    at = 0
    for comment in lesson.comments:
        first, last = comment.words
        assert at <= first < last
        assert all(word.place.kind == "move" for word in lesson.words[at:first])
        at = last
    assert all(word.place.kind == "move" for word in lesson.words[at:])


@thorough
@given(told())
def test_the_tree_is_the_decoded_one(pair: tuple[Talk, Decoded]) -> None:
    talk, decoded = pair
    lesson = assemble(talk, decoded)
    ours = set()
    for chapter in lesson.chapters:
        boards: dict[str | None, chess.Board] = {None: chess.Board(chapter.start_fen)}
        for move in chapter.moves:
            board = boards[move.parent].copy()
            assert move.san == board.san(chess.Move.from_uci(move.uci))
            board.push_uci(move.uci)
            boards[move.id] = board
            ours.add((chapter.id, board.root().fen(), tuple(m.uci() for m in board.move_stack)))
    theirs = set()
    for node in decoded.nodes:
        line = []
        at = node
        while at.parent >= 0:
            line.append(at.uci)
            at = decoded.nodes[at.parent]
        if line:
            theirs.add((f"c{at.chapter + 1}", at.fen, tuple(reversed(line))))
    assert ours == theirs


@thorough
@given(told())
def test_every_unsure_move_is_flagged_and_a_question_and_so_is_all_pointing(pair: tuple[Talk, Decoded]) -> None:
    talk, decoded = pair
    lesson = assemble(talk, decoded)
    moves = [move for chapter in lesson.chapters for move in chapter.moves]
    unsure = {move.id for move in moves if move.confidence < ASK_BELOW}
    assert unsure == {question.move for question in lesson.unresolved if question.move}
    assert unsure <= {move.id for move in moves if move.flagged} == {m.id for m in moves if m.confidence < FLAG_BELOW}
    pointed = sum(event.act == "point" for event in decoded.events)
    asked = [question.words for question in lesson.unresolved]
    assert all((e.first, e.last) in asked for e in decoded.events if e.act == "point")
    assert len(asked) >= pointed + len(unsure)
    for question in lesson.unresolved:
        board = chess.Board(question.fen)
        shares = [candidate.confidence for candidate in question.candidates]
        assert shares == sorted(shares, reverse=True)
        assert len({c.uci for c in question.candidates}) == len(question.candidates)
        for candidate in question.candidates:
            if candidate.uci and question.move:
                assert board.san(chess.Move.from_uci(candidate.uci)) == candidate.san


@thorough
@given(told())
def test_same_answer_same_bytes(pair: tuple[Talk, Decoded]) -> None:
    assert assemble(*pair).model_dump_json() == assemble(*pair).model_dump_json()


# --------------------------------------------------------------------------------------------------------- tree, order


def test_nothing_heard_is_an_honest_empty_study() -> None:
    lesson = lesson_of(said("good evening"))
    assert [chapter.moves for chapter in lesson.chapters] == [()]
    assert texts(lesson) == [(None, "good evening")]


def test_no_words_at_all() -> None:
    assert lesson_of(Talk("empty", "made", (), ())).comments == ()


def test_main_line_first_then_as_told() -> None:
    nodes = tree_of("e4 e5", "d4 d5", "c4")
    events = tuple(play(i, k, k + 1, nodes) for k, i in enumerate((1, 2, 3, 4, 5)))
    lesson = lesson_of(said("a b c d e"), nodes, events, main={0: 3})
    assert [(move.id, move.san, move.parent) for move in lesson.chapters[0].moves] == [
        ("m3", "d4", None),
        ("m4", "d5", "m3"),
        ("m1", "e4", None),
        ("m2", "e5", "m1"),
        ("m5", "c4", None),
    ]


def test_chapters_have_titles_starts_and_times() -> None:
    nodes = (*tree_of("e4"), Node(2, 1, -1, "", "", ENDGAME))
    events = (play(1, 1, 2, nodes), Event("chapter", 3, 5, 2))
    lesson = lesson_of(said("well e4 fine white king e3 end", 1000), nodes, events, titles=("One", "Two"))
    assert [(c.id, c.title, c.start_fen, c.start_ms) for c in lesson.chapters] == [
        ("c1", "One", chess.STARTING_FEN, 0),
        ("c2", "Two", ENDGAME, 3000),
    ]
    assert kinds(lesson) == "cmcppcc"
    assert texts(lesson)[-1] == (None, "white king e3 end")


# ----------------------------------------------------------------------------------------------------- words, comments


def test_a_bare_move_has_no_comment() -> None:
    nodes = tree_of("Nf3 d5")
    lesson = lesson_of(said("knight f3, d5 solid"), nodes, (play(1, 0, 2, nodes), play(2, 2, 3, nodes)))
    assert texts(lesson) == [("m2", "d5 solid")]
    assert kinds(lesson) == "mmmc"


def test_a_lead_in_clause_goes_with_its_move() -> None:
    nodes = tree_of("e4 h6")
    events = (play(1, 0, 1, nodes), play(2, 6, 7, nodes, lead=3))
    lesson = lesson_of(said("e4 good move. If he goes h6 fine"), nodes, events)
    assert texts(lesson) == [("m1", "e4 good move."), ("m2", "If he goes h6 fine")]
    assert kinds(lesson) == "mcccccmc"


def test_an_unspoken_move_does_not_part_the_clause_from_its_move() -> None:
    nodes = tree_of("e4 e5 Nf3")
    events = (play(1, 0, 1, nodes), play(2, 3, 3, nodes, origin="inferred"), play(3, 3, 4, nodes, lead=1))
    lesson = lesson_of(said("e4 and then Nf3"), nodes, events)
    assert texts(lesson) == [("m3", "and then Nf3")]


def test_moves_in_one_breath_share_their_words() -> None:
    nodes = tree_of("e4 d5 exd5 Qxd5")
    events = (play(1, 0, 1, nodes), play(2, 1, 2, nodes), play(3, 2, 4, nodes), play(4, 2, 4, nodes))
    lesson = lesson_of(said("e4 d5 takes, takes, level"), nodes, events)
    assert [move.words for move in lesson.chapters[0].moves] == [(0, 1), (1, 2), (2, 4), (2, 4)]
    assert texts(lesson) == [("m4", "takes, takes, level")]
    assert [word.place.ref for word in lesson.words] == ["m1", "m2", "m3", "m3", "t1"]


def test_a_mention_stays_where_the_cursor_is() -> None:
    nodes = tree_of("e4 e5")
    mention = Event("mention", 2, 4, 1, "d2d4", "d4")
    lesson = lesson_of(said("e4 e5 not d4, yet good"), nodes, (play(1, 0, 1, nodes), play(2, 1, 2, nodes), mention))
    assert texts(lesson) == [("m2", "e5 not d4, yet good")]
    assert [(m.at, m.text, m.fen) for m in lesson.mentions] == [("m1", "not d4,", nodes[1].fen)]
    assert kinds(lesson) == "mmmmcc"
    assert lesson.words[2].place.ref == "n1"


def test_each_visit_is_a_comment_of_its_own() -> None:
    nodes = tree_of("e4 e5", "e4 c5")
    events = (
        play(1, 0, 1, nodes),
        play(2, 2, 3, nodes),
        Event("return", 4, 6, 1),
        play(3, 7, 8, nodes),
        Event("retell", 8, 9, 1, "e2e4", "e4"),
    )
    lesson = lesson_of(said("e4 one e5 two back there three c5 e4 four"), nodes, events)
    assert texts(lesson) == [
        ("m1", "e4 one"),
        ("m2", "e5 two"),
        ("m1", "back there three"),
        ("m1", "e4 four"),
    ]
    assert [word.place.kind for word in lesson.words[4:6]] == ["navigation"] * 2
    assert lesson.words[8].place.model_dump() == {"kind": "move", "ref": "m1"}


def test_comments_are_mended_and_words_kept_as_heard() -> None:
    nodes = tree_of("Nf3 Nf6 b4")
    events = (play(1, 0, 2, nodes), play(2, 3, 5, nodes, confidence=UNSURE), play(3, 6, 7, nodes))
    lesson = lesson_of(said("night f3 good night f6 hm before done"), nodes, events)
    assert [text for _, text in texts(lesson)] == ["knight f3 good", "night f6 hm", "b4 done"]
    assert " ".join(word.text for word in lesson.words) == "night f3 good night f6 hm before done"


def test_times_are_those_of_the_words() -> None:
    nodes = tree_of("e4 e5")
    events = (play(1, 1, 2, nodes), play(2, 2, 2, nodes, origin="inferred", confidence=0.1))
    lesson = lesson_of(said("so e4", 500), nodes, events)
    assert [move.start_ms for move in lesson.chapters[0].moves] == [500, 1000]
    assert lesson.comments[0].start_ms == 0
    assert lesson.duration_ms == 1000


# -------------------------------------------------------------------------------------------------- questions, findings


def test_a_flagged_move_asks_with_its_rivals_ranked() -> None:
    nodes = tree_of("e4 e5 Nf3")
    rivals = (Rival("b1c3", "Nc3", 0.5), Rival("", "", 0.05))
    events = (
        play(1, 0, 1, nodes, confidence=SURE),
        play(2, 1, 2, nodes),
        play(3, 2, 4, nodes, confidence=0.3, rivals=rivals),
    )
    lesson = lesson_of(said("e4 e5 night three", 1000), nodes, events)
    (question,) = lesson.unresolved
    assert (question.move, question.at, question.fen, question.line) == ("m3", "m2", nodes[2].fen, "1. e4 e5")
    assert (question.text, question.start_ms, question.words) == ("night three", 2000, (2, 4))
    assert [c.san for c in question.candidates] == ["Nc3", "Nf3", ""]
    assert question.reason == "The words fit more than one move."
    assert [move.flagged for move in lesson.chapters[0].moves] == [False, False, True]


def test_a_line_from_a_position_with_black_to_move() -> None:
    nodes = tree_of("Kf6 Ke4 Ke6 Kd4", fen="8/5k2/8/8/8/4K3/8/8 b - - 0 30")
    events = (*(play(i, i - 1, i, nodes) for i in (1, 2, 3)), play(4, 3, 4, nodes, confidence=0.0))
    assert lesson_of(said("a b c d"), nodes, events).unresolved[0].line == "30... Kf6 31. Ke4 Ke6"


def test_pointing_and_words_that_fit_nowhere_are_questions() -> None:
    nodes = tree_of("e4")
    point = Event("point", 1, 3, 1, rivals=(Rival("e7e5", "e5", 0.2), Rival("c7c5", "c5", 0.4)))
    talk = Event("talk", 3, 5, 1, reason="No rook can go there.")
    lesson = lesson_of(said("e4 goes here rook h9 so"), nodes, (play(1, 0, 1, nodes), point, talk))
    assert [q.reason for q in lesson.unresolved] == ["A move was pointed at, but not named.", "No rook can go there."]
    assert [c.san for c in lesson.unresolved[0].candidates] == ["c5", "e5"]
    assert kinds(lesson) == "muuuuc"
    assert texts(lesson) == [("m1", "e4 goes here rook h9 so")]


def test_a_move_no_event_accounts_for_is_not_believed() -> None:
    lesson = lesson_of(said("hello"), tree_of("e4"))
    (move,) = lesson.chapters[0].moves
    assert (move.confidence, move.flagged, move.origin) == (0.0, True, "inferred")
    assert [question.move for question in lesson.unresolved] == [move.id]


def test_confidences_off_the_scale_are_brought_back() -> None:
    nodes = tree_of("e4 e5 d4")
    events = tuple(play(i, i - 1, i, nodes, confidence=c) for i, c in ((1, 1.0000001), (2, float("nan")), (3, -1.0)))
    lesson = lesson_of(said("a b c"), nodes, events)
    assert [move.confidence for move in lesson.chapters[0].moves] == [1.0, 0.0, 0.0]


def test_flaws_and_braces_are_findings() -> None:
    talk = Talk("t", "made", (Word("a"), Word("{b}", 5, 6)), (Cue(0, 2),), ("cue 3 ends before it starts",))
    findings = assemble(talk, Decoded((), ())).findings
    assert [(f.kind, f.words, f.start_ms) for f in findings] == [("file", None, None), ("characters", (1, 2), 5)]


def test_comment_text_is_one_line() -> None:
    talk = Talk("t", "made", (Word(" a\n"), Word("\tb  c")), (Cue(0, 2),))
    comment: Comment = assemble(talk, Decoded((), ())).comments[0]
    assert comment.text == "a b c"
