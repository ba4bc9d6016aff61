"""What the page makes of a lesson: how the words are marked."""

from __future__ import annotations

from lesson.assemble import assemble
from lesson.model import Cue, Decoded, Event, Node, Talk, Word
from lesson.review.shown import Shown
from lesson.settings import ASK_BELOW, FLAG_BELOW

_LINE = (("e4", "e2e4"), ("e5", "e7e5"), ("d4", "d2d4"), ("d5", "d7d5"))


def test_words_are_unsure_where_a_doubt_is_large_or_asked_about_not_wherever_a_flag_is() -> None:
    """Of the four moves all but the first carry a flag; the last is asked about though its line is likely."""
    start = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"
    nodes = (Node(0, 0, -1, "", "", start), *(Node(i, 0, i - 1, u, s, start) for i, (s, u) in enumerate(_LINE, 1)))
    sure = ((FLAG_BELOW, FLAG_BELOW), (ASK_BELOW + 0.1, 1.0), (ASK_BELOW - 0.1, 1.0), (ASK_BELOW + 0.1, 0.5))
    events = tuple(
        Event("play", i, i + 1, i + 1, u, s, confidence=line, step=step)
        for i, ((s, u), (line, step)) in enumerate(zip(_LINE, sure, strict=True))
    )
    words = tuple(Word(san) for san, _ in _LINE)
    lesson = assemble(Talk("ours", "text", words, (Cue(0, 4),)), Decoded(nodes, events))
    assert [move.flagged for move in lesson.chapters[0].moves] == [False, True, True, True]
    marks = [stretch.mark for stretch in Shown(lesson, ()).stretches if not stretch.plain]
    assert marks == ["played", "played", "unsure", "unsure"]
