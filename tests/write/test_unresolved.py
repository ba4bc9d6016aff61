"""The open questions as a teacher gets them on paper."""

from __future__ import annotations

import re

import chess
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from lesson.model import Event, Finding, Lesson, Rival
from lesson.write import unresolved_text
from lesson.write.unresolved import CONTEXT_WORDS, diagram
from tests.decoded import lessons
from tests.write.made import lesson_of, said, tree_of

quick = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


def doubtful() -> Lesson:
    nodes = tree_of("e4 e5 Nf3")
    rivals = (Rival("b1c3", "Nc3", 0.5), Rival("", "", 0.05))
    events = (
        Event("play", 0, 1, 1, "e2e4", "e4"),
        Event("play", 1, 2, 2, "e7e5", "e5"),
        Event("play", 3, 5, 3, "g1f3", "Nf3", confidence=0.3, rivals=rivals),
        Event("point", 6, 8, 3, rivals=(Rival("b8c6", "Nc6", 0.4),)),
    )
    return lesson_of(said("e4 e5 then night three and goes there " + "blah " * 30, 1000), nodes, events)


def test_a_question_as_it_is_printed() -> None:
    assert unresolved_text(doubtful()).startswith(
        """\
# Open questions: study

2 questions: a doubt begins at 1 move of 3, 1 phrase without a move of its own. Tick one box each, or write the move.

## 1. at 0:03

Chapter: c1

Said: e4 e5 then **night three** and goes there blah blah blah blah blah blah blah …

So far: 1. e4 e5

```text
8   r /n/ b /q/ k /b/ n /r/
7  /p/ p /p/ p /// p /p/ p
6     ///   ///   ///   ///
5  ///   ///   /p/   ///
4     ///   /// P ///   ///
3  ///   ///   ///   ///
2   P /P/ P /P/   /P/ P /P/
1  /R/ N /B/ Q /K/ B /N/ R

    a  b  c  d  e  f  g  h    White to move
```

Why it is open: The words fit more than one move.

In the study as: Nf3

- [ ] **Nc3**, 50%
- [ ] **Nf3**, 30%
- [ ] not a move, 5%
- [ ] something else: ........................

## 2. at 0:06
"""
    )


def test_nothing_open_is_said() -> None:
    assert unresolved_text(lesson_of(said("just talk"))) == (
        "# Open questions: study\n\n"
        "Nothing is open: every move was heard clearly enough to be written without a doubt.\n"
    )


def test_notes_on_the_file_are_listed() -> None:
    assert "## Notes\n\n- 0:01: " in unresolved_text(lesson_of(said("a {b}", 1000)))


def test_an_untimed_talk_has_no_times() -> None:
    nodes = tree_of("e4")
    text = unresolved_text(lesson_of(said("e4"), nodes, (Event("play", 0, 0, 1, "e2e4", "e4", confidence=0.1),)))
    assert "\n## 1.\n" in text
    assert "Said: **(nothing was said)** e4\n" in text
    assert "So far: (start of the chapter)\n" in text


def test_diagram_shows_every_piece_on_its_square() -> None:
    board = chess.Board("r3k2r/p1ppqpb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/PPPBBPPP/R3K2R b KQkq - 0 1")
    rows = diagram(board.fen()).split("\n")
    for square in chess.SQUARES:
        row = rows[7 - chess.square_rank(square)].ljust(40)
        cell = row[3 + 3 * chess.square_file(square) :][:3]
        piece = board.piece_at(square)
        dark = bool(chess.BB_SQUARES[square] & chess.BB_DARK_SQUARES)
        ink = "/" if dark else " "
        assert cell == ink + (piece.symbol() if piece else ink) + ink
    assert rows[-1].endswith("Black to move")


# ------------------------------------------------------------------------------------------- read by a Markdown reader

markdown = MarkdownIt("commonmark").enable(["table", "strikethrough"])


def shown(text: str) -> tuple[list[str], list[str]]:
    """Kinds of the blocks and inline marks a CommonMark reader sees, and the text of every paragraph and heading."""
    marks: list[str] = []
    lines: list[str] = []
    for token in markdown.parse(text):
        marks.append(token.type)
        if token.type == "inline":
            children = token.children or []
            marks += [child.type for child in children]
            lines.append(
                "".join(
                    child.content if child.type == "text" else "\n" * (child.type == "softbreak") for child in children
                )
            )
    return marks, lines


FOREIGN = {"html_block", "html_inline", "code_inline", "em_open", "link_open", "image", "s_open", "table_open"}
FOREIGN |= {"blockquote_open", "ordered_list_open", "code_block", "hr", "hardbreak", "softbreak"}


@quick
@given(lessons())
def test_words_of_the_talk_never_become_markup(lesson: Lesson) -> None:
    marks, lines = shown(unresolved_text(lesson))
    assert not FOREIGN & set(marks)
    questions = len(lesson.unresolved)
    assert marks.count("heading_open") == 1 + questions + bool(lesson.findings)
    assert marks.count("fence") == questions
    assert sum(line.startswith("Said: ") for line in lines) == questions


@quick
@given(lessons(), st.data())
def test_a_doubt_is_one_line_whatever_was_said(lesson: Lesson, data: st.DataObject) -> None:
    first = data.draw(st.integers(0, len(lesson.words)))
    last = data.draw(st.integers(first, len(lesson.words)))
    quoted = " ".join(word.text for word in lesson.words[first:last])
    doubt = Finding(kind="claim", severity="error", message=f'"{quoted}" is not so', words=(first, last))
    marks, lines = shown(unresolved_text(lesson.model_copy(update={"findings": (doubt,)})))
    assert not FOREIGN & set(marks)
    boxes = sum(line.startswith("[ ] ") for line in lines)
    assert marks.count("list_item_open") == boxes + 1
    assert bare(quoted) in bare(lines[-1])
    assert lines[-1].endswith("is not so)")


@quick
@given(lessons())
def test_the_words_in_question_are_shown_as_they_are(lesson: Lesson) -> None:
    _, lines = shown(unresolved_text(lesson))
    said_lines = [line for line in lines if line.startswith("Said: ")]
    for question, line in zip(lesson.unresolved, said_lines, strict=True):
        first, last = question.words
        around = [word.text for word in lesson.words[max(0, first - CONTEXT_WORDS) : last + CONTEXT_WORDS]]
        shown_words = line.removeprefix("Said: ").replace("(nothing was said)", "")
        assert bare(shown_words) == bare("".join(around))


def bare(text: str) -> str:
    """`text` without white space, marks of omission and NUL, which Markdown shows as U+FFFD (CommonMark 0.31, 2.3)."""
    return re.sub(r"[\s\x00\ufffd…]", "", text)
