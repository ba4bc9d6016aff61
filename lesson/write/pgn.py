"""Lesson -> PGN, export format of the standard of 1994, narrowed to what every reader we tried reads alike.

Per slot: the move, its NAGs, one brace comment, then its sidelines. Never written: `;` and `%` escapes, a sideline
before a move, a sideline without moves, a comment after a sideline, two comments in a row, a quote in a tag.
Section numbers below are those of the standard. python-chess' own writer is not used: it deletes braces from comments
and takes no position on what stands first in a line.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import chess

from lesson.model import Chapter, Lesson, LessonMove, Unresolved

Comments = Literal["full", "brief", "none"]

WIDTH = 79
"""Characters a line of movetext may hold: 4.3 asks for less than 80."""
TAG_LENGTH = 200
"""Characters kept of a tag's value, so that its line stays under the 255 an importer may count on (4.3)."""
BRIEF_WORDS = 12
"""Words kept of each stretch of talk when comments are brief."""
_RIVALS = 4

_PORTABLE = str.maketrans({"{": "(", "}": ")", "\ufeff": ""})
# A scanner may take a `;` or `%` at the start of a line for an escape (section 6); the wide forms read the same.
_AT_LINE_START = {";": "；", "%": "％"}


def pgn_text(lesson: Lesson, comments: Comments = "full", title: str | None = None) -> str:
    """One game per chapter. `title` stands in the Event tag in place of the lesson's name.

    comments "full": every word, each stretch after the time it begins ("0:47 ..."); "brief": the first BRIEF_WORDS
    words of each stretch; "none": moves only. Unless "none", a flagged move's comment says what else it could be, and
    a move nobody said is marked so. The result is `*` unless the main line ends in mate or stalemate.
    """
    name = title or lesson.name
    return "".join(f"{game}\n\n" for game in (_game(lesson, chapter, comments, name) for chapter in lesson.chapters))


def clock(ms: int) -> str:
    """A time in the talk as m:ss, or h:mm:ss from one hour on."""
    minutes, seconds = divmod(ms // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def _game(lesson: Lesson, chapter: Chapter, comments: Comments, name: str) -> str:
    tree = _Tree(chapter)
    result = tree.result()
    texts = {} if comments == "none" else _comments(lesson, chapter, comments)
    tags = {"Event": ": ".join(filter(None, (name, chapter.title))), "Site": "?", "Date": "????.??.??"}
    tags |= {"Round": "-", "White": "?", "Black": "?", "Result": result}
    if comments != "none":
        tags["Annotator"] = lesson.name
    if tree.start.fen() != chess.STARTING_FEN:
        tags |= {"FEN": tree.start.fen(en_passant="fen"), "SetUp": "1"}
    head = "".join(f'[{tag} "{_tag_value(value)}"]\n' for tag, value in tags.items())
    return f"{head}\n{_fill([*_movetext(tree, texts), result])}"


def _tag_value(value: str) -> str:
    text = " ".join(_printable(value).split()).replace('"', "'").replace("\\", "/")
    return text[:TAG_LENGTH].rstrip() or "?"


# ------------------------------------------------------------------------------------------------------------ the tree


class _Tree:
    """A chapter's moves by parent, and the position it starts from."""

    def __init__(self, chapter: Chapter) -> None:
        self.start = chess.Board(chapter.start_fen)
        self.children: dict[str | None, list[LessonMove]] = {}
        self.ply: dict[str | None, int] = {None: self.start.ply()}
        for move in chapter.moves:
            self.children.setdefault(move.parent, []).append(move)
            self.ply[move.id] = self.ply[move.parent] + 1

    def result(self) -> str:
        board = self.start.copy(stack=False)
        line = self.children.get(None)
        while line:
            board.push_uci(line[0].uci)
            line = self.children.get(line[0].id)
        return board.result() if board.is_checkmate() or board.is_stalemate() else "*"


# ----------------------------------------------------------------------------------------------------------- movetext

_Step = tuple[Literal["move"], LessonMove] | tuple[Literal["line"], str | None] | tuple[Literal["(", ")"], None]


def _movetext(tree: _Tree, texts: Mapping[str | None, str]) -> list[str]:
    """The tokens of a game without its result. A stack of things to do, not recursion: a talk may nest at will."""
    out = _comment(texts.get(None))
    steps: list[_Step] = [("line", None)]
    numbered = True
    opening = ""
    while steps:
        match steps.pop():
            case ("line", after):
                steps += _follow(tree.children.get(after, ()))
            case ("(", _):
                opening, numbered = "(", True
            case (")", _):
                out[-1] += ")"
                numbered = True
            case ("move", move):
                first, *rest = _move(move, tree.ply[move.id], numbered, texts.get(move.id))
                out += [opening + first, *rest]
                opening, numbered = "", bool(move.nags or move.id in texts)
    return out


def _follow(siblings: Sequence[LessonMove]) -> list[_Step]:
    """What to write for moves of which the first is the main one; the last step comes first."""
    if not siblings:
        return []
    main, *sidelines = siblings
    steps: list[_Step] = [("move", main)]
    for move in sidelines:
        steps += [("(", None), ("move", move), ("line", move.id), (")", None)]
    return [("line", main.id), *reversed(steps)]


def _move(move: LessonMove, ply: int, numbered: bool, text: str | None) -> list[str]:
    """A move with all that may stand between it and the next: 8.2.2.2 for the number, NAGs before the comment."""
    number, black = divmod(ply - 1, 2)
    tokens = [f"{number + 1}..." if black else f"{number + 1}."] if numbered or not black else []
    return [*tokens, move.san, *(f"${nag}" for nag in move.nags), *_comment(text)]


def _comment(text: str | None) -> list[str]:
    return ["{", *text.split(), "}"] if text else []


def _fill(tokens: Iterable[str]) -> str:
    """Lines of at most WIDTH characters, each as full as it can be. A word longer than a line is cut."""
    lines: list[str] = []
    line = ""
    for token in tokens:
        for start in range(0, len(token), WIDTH):
            piece = token[start : start + WIDTH]
            if line and len(line) + 1 + len(piece) <= WIDTH:
                line += " " + piece
                continue
            if line:
                lines.append(line)
            line = _AT_LINE_START.get(piece[0], piece[0]) + piece[1:]
    return "\n".join([*lines, line])


# ------------------------------------------------------------------------------------------------------------ comments


def _comments(lesson: Lesson, chapter: Chapter, comments: Comments) -> dict[str | None, str]:
    """The one comment of each slot: the stretches said there in the order told, then what is unsure about the move."""
    parts: dict[str | None, list[str]] = {}
    for comment in lesson.comments:
        words = _printable(comment.text).split()
        if comment.chapter == chapter.id and words:
            if comments == "brief" and len(words) > BRIEF_WORDS:
                words[BRIEF_WORDS:] = ["..."]
            parts.setdefault(comment.at, []).extend([*_opening(comment.start_ms), *words])
    questions = {question.move: question for question in lesson.unresolved}
    for move in chapter.moves:
        if note := _note(move, questions.get(move.id)):
            opening = [] if move.id in parts else _opening(move.start_ms)
            parts.setdefault(move.id, []).extend([*opening, note])
    return {at: " ".join(words) for at, words in parts.items()}


def _opening(start_ms: int | None) -> list[str]:
    return [] if start_ms is None else [clock(start_ms)]


def _note(move: LessonMove, question: Unresolved | None) -> str:
    """What a reader of the PGN must know before trusting the move; "" where there is nothing."""
    notes = ["not said"] if move.origin == "inferred" else []
    if move.flagged and question:
        rivals = [c.san or "no move" for c in question.candidates if c.uci != move.uci]
        notes.append("unsure: also possible " + ", ".join(rivals[:_RIVALS]) if rivals else "unsure")
    return f"({'; '.join(notes)})" if notes else ""


def _printable(text: str) -> str:
    """`text` without what a comment or a tag cannot hold: braces, `[%` (a command to some readers), controls."""
    spaced = "".join(" " if unicodedata.category(c) == "Cc" else c for c in text.translate(_PORTABLE))
    return spaced.replace("[%", "(%")
