"""Lesson -> the open questions, as Markdown to be read on paper and answered with a pencil."""

from __future__ import annotations

import re
from collections.abc import Iterator

import chess

from lesson.model import Candidate, Finding, Lesson, Unresolved
from lesson.write.pgn import clock

CONTEXT_WORDS = 10
"""Words of the talk shown before and after the words in question."""

_STOPS = (".", "?", "!")
_DOUBTS = "Either it is not so, or a move before it was misheard."
_NOTHING_OPEN = "Nothing is open: every move was heard clearly enough to be written without a doubt."


def unresolved_text(lesson: Lesson) -> str:
    """One section per question: when, the words among their neighbours, the position, why, what they may mean."""
    titles = {chapter.id: chapter.title or chapter.id for chapter in lesson.chapters}
    parts = [f"# Open questions: {_plain(lesson.name)}", _summary(lesson)]
    for number, question in enumerate(lesson.unresolved, 1):
        parts += _question(lesson, number, question, titles[question.chapter])
    if doubts := [finding for finding in lesson.findings if finding.doubts_speaker]:
        parts += ["## The board says otherwise", _DOUBTS, "\n".join(f"- {_doubt(lesson, doubt)}" for doubt in doubts)]
    if notes := [finding for finding in lesson.findings if not finding.doubts_speaker]:
        parts += ["## Notes", "\n".join(f"- {_finding(note)}" for note in notes)]
    return "\n\n".join(parts) + "\n"


def _summary(lesson: Lesson) -> str:
    if not lesson.unresolved:
        return _NOTHING_OPEN
    total = len(lesson.unresolved)
    written = sum(question.move is not None for question in lesson.unresolved)
    moves = sum(len(chapter.moves) for chapter in lesson.chapters)
    return (
        f"{_count(total, 'question')}: a doubt begins at {_count(written, 'move')} of {moves}, "
        f"{_count(total - written, 'phrase')} without a move of its own. Tick one box each, or write the move."
    )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _question(lesson: Lesson, number: int, question: Unresolved, title: str) -> Iterator[str]:
    when = "" if question.start_ms is None else f" at {clock(question.start_ms)}"
    yield f"## {number}.{when}"
    yield f"Chapter: {_plain(title)}"
    yield f"Said: {_context(lesson, question)}"
    yield f"So far: {question.line or '(start of the chapter)'}"
    yield f"```text\n{diagram(question.fen)}\n```"
    yield f"Why it is open: {_plain(question.reason)}"
    written = next((m.san for c in lesson.chapters for m in c.moves if m.id == question.move), None)
    if written:
        yield f"In the study as: {written}"
    boxes = [f"- [ ] {_candidate(candidate)}" for candidate in question.candidates]
    if not any(candidate.uci == "" for candidate in question.candidates):
        boxes.append("- [ ] not a move")
    yield "\n".join([*boxes, "- [ ] something else: ........................"])


def _candidate(candidate: Candidate) -> str:
    share = f"{candidate.confidence:.0%}"
    return f"**{candidate.san}**, {share}" if candidate.san else f"not a move, {share}"


def _context(lesson: Lesson, question: Unresolved) -> str:
    first, last = question.words
    words = [word.text for word in lesson.words]
    before = _plain(" ".join(words[max(0, first - CONTEXT_WORDS) : first]))
    after = _plain(" ".join(words[last : last + CONTEXT_WORDS]))
    phrase = _plain(" ".join(words[first:last]))
    middle = f"**{phrase}**" if phrase else "**(nothing was said)**"
    if first > CONTEXT_WORDS:
        before = f"… {before}"
    if last + CONTEXT_WORDS < len(words):
        after = f"{after} …"
    return " ".join(part for part in (before, middle, after) if part)


def _doubt(lesson: Lesson, finding: Finding) -> str:
    """When, the sentence as far as it lies near, and why it is doubted."""
    assert finding.words is not None
    first, last = finding.words
    words = [word.text for word in lesson.words]
    begin, end = first, last
    while begin > max(0, first - CONTEXT_WORDS) and not words[begin - 1].endswith(_STOPS):
        begin -= 1
    while end < min(len(words), last + CONTEXT_WORDS) and not words[end - 1].endswith(_STOPS):
        end += 1
    before, phrase, after = (_plain(" ".join(words[a:b])) for a, b in ((begin, first), (first, last), (last, end)))
    when = "" if finding.start_ms is None else f"{clock(finding.start_ms)}: "
    return f"{when}said {' '.join(filter(None, (before, f'**{phrase}**', after)))} ({_plain(finding.message)})"


def _finding(finding: Finding) -> str:
    when = "" if finding.start_ms is None else f"{clock(finding.start_ms)}: "
    # A list item may begin with a mark that is harmless elsewhere in a line: "1.", "-", "+".
    return when + re.sub(r"^(\d*)([-+.)=])", r"\1\\\2", _plain(finding.message))


def _plain(text: str) -> str:
    """`text` on one line, with a backslash before what Markdown would take for markup (CommonMark 0.31, 2.4)."""
    return re.sub(r"([\\`*_\[\]<>#|~&$])", r"\\\1", " ".join(text.split()))


def diagram(fen: str) -> str:
    """The board as White sees it, dark squares hatched; White's pieces are capitals, Black's small letters."""
    board = chess.Board(fen)
    rows = []
    for rank in reversed(range(8)):
        cells = []
        for file in range(8):
            ink = "." if (rank + file) % 2 else "/"
            piece = board.piece_at(chess.square(file, rank))
            cells.append(f"{ink}{piece.symbol() if piece else ink}{ink}")
        rows.append(f"{rank + 1}  {''.join(cells).replace('.', ' ')}".rstrip())
    side = "White" if board.turn else "Black"
    return "\n".join([*rows, "", f"    {'  '.join('abcdefgh')}    {side} to move"])
