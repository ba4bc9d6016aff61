"""The simulated teacher: he ends with the true tree, and counts what he said to get there."""

from __future__ import annotations

from pathlib import Path

import chess

from lesson.decode import decode
from lesson.model import Decoded, Talk, Word
from tests.accuracy.gold import GoldTalk, Span
from tests.accuracy.teacher import Report, Teacher

TRUE = "Let us begin with e4 e5 knight f3 knight c6 bishop b5 a6 and the queen is at home"
MOVES = [("e4", 4, 5), ("e5", 5, 6), ("Nf3", 6, 8), ("Nc6", 8, 10), ("Bb5", 10, 12), ("a6", 12, 13)]
PGN = "1. e4 e5 2. Nf3 Nc6 3. Bb5 a6 *"


def gold() -> GoldTalk:
    board = chess.Board()
    spans = []
    for san, first, last in MOVES:
        board.push_san(san)
        path = tuple(move.uci() for move in board.move_stack)
        spans.append(Span("play", (first, last), san, 0, path, how="said"))
    return GoldTalk("tiny", Path("tiny"), tuple(TRUE.split()), tuple(spans), PGN, (chess.STARTING_FEN,))


def heard(text: str) -> Talk:
    words = tuple(Word(word, 400 * i, 400 * i + 300) for i, word in enumerate(text.split()))
    return Talk("tiny", "text", words, ())


def corrected(text: str) -> tuple[Report, list[str]]:
    trace: list[str] = []
    teacher = Teacher(gold(), heard(text), lambda talk, facts: decode(talk, facts=facts))
    return teacher.run(trace.append), trace


def test_a_talk_heard_right_needs_no_answer() -> None:
    report, _ = corrected(TRUE)
    assert (report.answers, report.keys, report.perfect, report.before) == (0, 0, True, 1.0)


def test_a_wrong_move_takes_one_answer_and_its_keys() -> None:
    report, trace = corrected(TRUE.replace("bishop b5", "bishop c4"))
    assert report.perfect
    assert report.before < 1.0
    assert (report.answers, report.kinds) == (1, {"move": 1})
    assert report.keys in (2, 5), "the words chosen, and the reading offered or Bb5 and Enter"
    assert "Bb5" in trace[0]


def test_a_move_too_many_is_said_to_be_none() -> None:
    report, _ = corrected(f"{TRUE} and bishop takes c6")
    assert report.perfect
    assert (report.answers, report.kinds, report.keys) == (1, {"talk": 1}, 2)


def test_what_cannot_be_put_right_ends_and_is_counted() -> None:
    """A decoder that understands nothing and believes nobody."""
    nothing = Decoded((), ())
    report = Teacher(gold(), heard(TRUE), lambda talk, facts: nothing).run(lambda line: None)
    assert not report.perfect
    assert report.after == 0.0
    assert report.stuck == len(MOVES)
