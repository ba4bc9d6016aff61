"""Answers: what they become, that they are saved before anything else, undo, and two windows at once."""

from __future__ import annotations

import threading
from itertools import pairwise
from pathlib import Path

import chess
import pytest
from starlette.testclient import TestClient

from lesson.corrections import Corrections, corrections_path, read_corrections
from lesson.errors import DataError, UsageError, WriteError
from lesson.model import Talk
from lesson.read import read_talk
from lesson.review.answers import Answer
from lesson.review.questions import card, ranked
from lesson.review.session import Remade, Session, Stale
from lesson.review.shown import Shown
from lesson.write import OUTPUTS
from tests.review.conftest import BEYOND, UNSAID, remade


def words(session: Session, text: str) -> tuple[int, int]:
    """Where the talk says `text`, exactly once."""
    wanted = text.split()
    said = [word.text for word in session.shown.lesson.words]
    found = [i for i in range(len(said)) if said[i : i + len(wanted)] == wanted]
    assert len(found) == 1, text
    return found[0], found[0] + len(wanted)


def give(session: Session, text: str, means: str, value: str = "", at: str = "", person: str = "") -> None:
    session.answer(
        Answer.model_validate(
            {
                "version": session.version,
                "shown": session.serial,
                "words": words(session, text),
                "means": means,
                "value": value,
                "at": at,
                "person": person,
            }
        )
    )
    assert session.settle(60)
    assert session.trouble == ""


def saved(session: Session) -> list[tuple[str, str, str]]:
    return [(c.kind, c.text, c.move or c.becomes) for c in read_corrections(session.path).corrections]


def main_line(shown: Shown) -> list[str]:
    out: list[str] = []
    at = shown.lesson.chapters[0].id
    while following := shown.children.get(at):
        at = following[0]
        move = shown.spots[at].move
        assert move is not None
        out.append(move.san)
    return out


# -------------------------------------------------------------------------------------------------------- the meanings


def test_a_move_is_played_and_the_rest_follows(session: Session) -> None:
    give(session, "pawn goes to b4.", "typed", "pawn b3")
    assert saved(session) == [("move", "pawn goes to b4.", "b3")]
    assert main_line(session.shown)[:9] == ["e4", "e5", "Nf3", "Nc6", "Bc4", "Bc5", "c3", "Nf6", "b3"]
    span = words(session, "pawn goes to b4.")
    stretch = next(s for s in session.shown.stretches if (s.first, s.last) == span)
    assert stretch.answered
    assert span not in [q.words for q in ranked(session.shown)]
    assert span in session.changes.spans
    assert "b3" in session.changes.text


def test_not_a_move(session: Session) -> None:
    give(session, "b3", "talk")
    assert saved(session) == [("talk", "b3", "")]
    stretch = next(s for s in session.shown.stretches if (s.first, s.last) == words(session, "b3"))
    assert (stretch.mark, stretch.answered) == ("settled", True)


@pytest.mark.parametrize("typed", ["not a move", "No.", "-", "talk"])
def test_not_a_move_can_be_typed(session: Session, typed: str) -> None:
    give(session, "b3", "typed", typed)
    assert saved(session) == [("talk", "b3", "")]


def test_going_back(session: Session) -> None:
    give(session, "Back to move four,", "typed", "back to 2... Nc6")
    correction = read_corrections(session.path).corrections[0]
    assert (correction.kind, correction.path) == ("return", ("e2e4", "e7e5", "g1f3", "b8c6"))


def test_a_move_made_in_another_position_goes_back_first(session: Session) -> None:
    spots = session.shown.spots
    after_nc6 = next(s for s in spots.values() if s.number == "2... Nc6")
    give(session, "castles", "move", "d2d4", at=after_nc6.id)
    kinds = [(c.kind, c.move, c.path) for c in read_corrections(session.path).corrections]
    assert kinds == [("return", "", after_nc6.path), ("move", "d4", ())]


def test_a_misheard_word_a_title_and_a_side(session: Session) -> None:
    give(session, "clay", "word", "kiln")
    assert "kiln" in session.shown.text(0, len(session.shown.lesson.words))
    give(session, "Nobody", "title", "An Italian evening")
    assert session.shown.lesson.chapters[0].title == "An Italian evening"
    give(session, "Nobody", "side", "w", person="I")
    assert [c.kind for c in read_corrections(session.path).corrections] == ["word", "title", "side"]


def test_a_dictated_position_starts_a_chapter(session: Session) -> None:
    # The bare kings and a pawn of any primer on the opposition (common practice, no source).
    give(session, "Nobody saw", "chapter", "4k3/8/4K3/4P3/8/8/8/8 w - - 0 1")
    assert session.shown.lesson.chapters[-1].start_fen.startswith("4k3/8/4K3/4P3/8/8/8/8 w")


@pytest.mark.parametrize(
    ("means", "value", "at"),
    [
        ("move", "Ke5", ""),
        ("move", "", ""),
        ("typed", "knight to the moon", ""),
        ("typed", "knight", ""),
        ("typed", "back to 40. Kh8", ""),
        ("chapter", "no such position", ""),
        ("chapter", "8/8/8/8/8/8/8/8 w - - 0 1", ""),
        ("side", "x", ""),
        ("word", "", ""),
        ("title", "  ", ""),
        ("return", "", "m999"),
        ("move", "e4", "../etc"),
    ],
)
def test_nonsense_is_refused_and_nothing_is_saved(session: Session, means: str, value: str, at: str) -> None:
    with pytest.raises(UsageError) as refused:
        give(session, "pawn push.", means, value, at)
    assert "\n" not in str(refused.value)
    assert not session.path.exists()
    assert session.version == 1


# ----------------------------------------------------------------------------------------------------- undo and redo


def test_undo_and_redo_reach_the_file(session: Session) -> None:
    first = main_line(session.shown)
    give(session, "pawn goes to b4.", "move", "b4")
    after = main_line(session.shown)
    give(session, "b3", "talk")
    session.undo(session.version)
    assert session.settle(60)
    assert saved(session) == [("move", "pawn goes to b4.", "b4")]
    assert main_line(session.shown) == after
    session.undo(session.version)
    assert session.settle(60)
    assert saved(session) == []
    assert main_line(session.shown) == first
    with pytest.raises(UsageError):
        session.undo(session.version)
    session.redo(session.version)
    session.redo(session.version)
    assert session.settle(60)
    assert [kind for kind, _, _ in saved(session)] == ["move", "talk"]
    with pytest.raises(UsageError):
        session.redo(session.version)


def test_an_answer_after_undo_ends_redo(session: Session) -> None:
    give(session, "b3", "talk")
    session.undo(session.version)
    give(session, "castles", "talk")
    assert not session.can_redo
    assert saved(session) == [("talk", "castles", "")]


def test_a_later_answer_about_the_same_words_replaces_the_earlier(session: Session) -> None:
    give(session, "b3", "talk")
    give(session, "b3", "mention")
    assert saved(session) == [("mention", "b3", "")]
    session.undo(session.version)
    assert saved(session) == [("talk", "b3", "")]


def test_the_next_day_everything_is_there_and_can_be_undone(session: Session) -> None:
    give(session, "b3", "talk")
    give(session, "castles", "talk")
    tomorrow = Session(session.talk_path, session.talk, remade)
    assert tomorrow.corrections == session.corrections
    assert [(s.text, s.mark) for s in tomorrow.shown.stretches] == [(s.text, s.mark) for s in session.shown.stretches]
    tomorrow.undo(tomorrow.version)
    assert saved(tomorrow) == [("talk", "b3", "")]


# ------------------------------------------------------------------------------------------------ windows and programs


def test_of_two_windows_the_second_is_told(session: Session) -> None:
    span = words(session, "b3")
    seen = {"version": session.version, "shown": session.serial, "words": span, "means": "talk"}
    session.answer(Answer.model_validate(seen))
    with pytest.raises(Stale):
        session.answer(Answer.model_validate(seen | {"means": "mention"}))
    with pytest.raises(Stale):
        session.undo(1)
    assert saved(session) == [("talk", "b3", "")]


def test_many_windows_at_once_lose_no_answer_that_was_taken(session: Session) -> None:
    taken: list[tuple[int, int]] = []

    def window(number: int) -> None:
        for _ in range(40):
            try:
                span = (number, number + 1)
                what = {"version": session.version, "shown": session.serial, "words": span, "means": "talk"}
                session.answer(Answer.model_validate(what))
            except Stale:
                continue
            taken.append(span)
            return

    session._remake = lambda talk, corrections: Remade(session.shown.lesson, {})
    threads = [threading.Thread(target=window, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert session.settle(60)
    assert taken
    assert sorted(c.words or () for c in read_corrections(session.path).corrections) == sorted(taken)


def test_what_an_editor_wrote_meanwhile_is_kept(session: Session) -> None:
    give(session, "b3", "talk")
    text = session.path.read_text(encoding="utf-8").replace('"talk"', '"mention"')
    session.path.write_text(text, encoding="utf-8")
    with pytest.raises(Stale, match="another program"):
        give(session, "castles", "talk")
    assert saved(session) == [("mention", "b3", "")]
    assert session.settle(60)
    give(session, "castles", "talk")
    assert saved(session) == [("mention", "b3", ""), ("talk", "castles", "")]


def test_an_answer_that_cannot_be_saved_is_not_taken(session: Session) -> None:
    session.path.mkdir()
    session._on_disk = ""
    with pytest.raises((WriteError, DataError)):
        give(session, "b3", "talk")
    assert session.version == 1
    assert not session.can_undo


def test_a_fault_while_reading_again_keeps_the_answers(session: Session) -> None:
    def broken(talk: Talk, corrections: Corrections) -> Remade:
        raise ZeroDivisionError

    session._remake = broken
    answer = {"version": 1, "shown": 1, "words": words(session, "b3"), "means": "talk"}
    session.answer(Answer.model_validate(answer))
    assert session.settle(60)
    assert "saved" in session.trouble
    assert saved(session) == [("talk", "b3", "")]


def test_a_broken_file_of_corrections_stops_the_start(talk_path: Path) -> None:
    corrections_path(talk_path).write_text('{"version": 1, "corrections": [', encoding="utf-8")
    with pytest.raises(DataError):
        Session(talk_path, read_talk(talk_path), remade)


# ---------------------------------------------------------------------------------------------------------- the page


def test_an_answer_by_post(client: TestClient, session: Session) -> None:
    body = {"version": 1, "shown": 1, "words": words(session, "b3"), "means": "talk"}
    reply = client.post("/answer", json=body)
    assert reply.status_code == 200
    assert 'data-version="2"' in reply.json()["main"]
    assert saved(session) == [("talk", "b3", "")]
    late = client.post("/answer", json=body)
    assert late.status_code == 409
    assert "another window" in late.json()["message"]
    assert 'data-version="2"' in late.json()["main"]
    assert client.post("/undo", json={"version": 2}).status_code == 200
    assert saved(session) == []
    nonsense = client.post("/answer", json=body | {"version": 3, "means": "move", "value": "Kh8"})
    assert nonsense.status_code in (409, 422)


def test_the_files_are_written_beside_the_talk(client: TestClient, session: Session) -> None:
    reply = client.post("/export", json={"version": 1})
    assert reply.status_code == 200
    names = [f"pottery{output.suffix}" for output in OUTPUTS]
    assert all(name in reply.json()["message"] for name in names)
    assert sorted(p.name for p in session.talk_path.parent.iterdir()) == sorted(["pottery.vtt", *names])


# ---------------------------------------------------------------------------------------------------- what is shown


def test_what_the_board_denies_is_on_the_page_and_notes_on_the_file_are_not(client: TestClient) -> None:
    html = client.get("/main").text
    assert "castled &lt;already&gt;</button>" in html
    assert "no doubt" not in html


def test_notes_on_the_analysis_are_on_the_page_with_their_places(client: TestClient, session: Session) -> None:
    html = client.get("/main").text
    section = html.partition('<section id="beside"')[2].partition("</section>")[0]
    assert "hidden" not in section.partition(">")[0]
    notes = dict(zip((UNSAID, BEYOND), section.split("<li>")[1:], strict=True))
    assert all(message in row for message, row in notes.items())
    after_e4 = next(spot.id for spot in session.shown.spots.values() if spot.number == "1. e4")
    assert f'data-spot="{after_e4}"' in notes[UNSAID]
    first, last = words(session, "c3,")
    assert f'data-first="{first}" data-last="{last}"' in notes[BEYOND]


def test_every_word_is_shown_once_and_in_order(session: Session) -> None:
    shown = session.shown
    assert " ".join(s.text for s in shown.stretches if s.text) == " ".join(w.text for w in shown.lesson.words)
    ends = [(s.first, s.last) for s in shown.stretches if s.first < s.last]
    assert ends[0][0] == 0
    assert ends[-1][1] == len(shown.lesson.words)
    assert all(a[1] == b[0] for a, b in pairwise(ends))


def test_positions_are_those_of_the_moves(session: Session) -> None:
    """Checked by python-chess."""
    for spot in session.shown.spots.values():
        board = chess.Board(session.shown.lesson.chapters[spot.chapter].start_fen)
        for uci in spot.path:
            board.push_uci(uci)
        assert board.fen() == spot.fen


def test_a_question_offers_what_may_be_played(session: Session) -> None:
    for question in ranked(session.shown):
        offered = card(session.shown, *question.words)
        board = chess.Board(offered.before.fen)
        assert [o.key for o in offered.offers] == [str(n) for n in range(1, len(offered.offers) + 1)]
        assert all(board.is_legal(chess.Move.from_uci(o.uci)) for o in offered.offers if o.means == "move")
        assert len({o.uci for o in offered.offers if o.uci}) == len([o for o in offered.offers if o.uci])


def test_of_two_equally_doubtful_questions_the_one_that_more_hangs_on_comes_first(session: Session) -> None:
    lesson = session.shown.lesson
    doubt = next(q for q in lesson.unresolved if q.candidates)
    moves = [m for m in lesson.chapters[0].moves if m.words[0] < m.words[1]]
    even = (doubt.candidates[0].model_copy(update={"confidence": 0.5}),)
    asked = tuple(
        doubt.model_copy(update={"id": m.id, "move": m.id, "words": m.words, "candidates": even})
        for m in reversed(moves)
    )
    shown = Shown(lesson.model_copy(update={"unresolved": asked}))
    below = [shown.spots[q.id].below for q in ranked(shown)]
    assert len(below) == len(moves) > 5
    assert below == sorted(below, reverse=True)
