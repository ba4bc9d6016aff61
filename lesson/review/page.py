"""What the templates show, worked out: paragraphs of the talk, rows of the tree, the squares of the board."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import chess
import jinja2

from lesson.review.changes import Changes
from lesson.review.questions import Card, card, ranked
from lesson.review.session import Session
from lesson.review.shown import Shown, Spot, Stretch
from lesson.review.spans import Paragraph, Piece, Row, Step
from lesson.write.pgn import clock

HERE = Path(__file__).resolve().parent

PARAGRAPH_WORDS = 55
"""Words after which a paragraph ends with the next sentence; a page of print has some ten lines to a paragraph."""
LONGEST_PARAGRAPH = 120
"""Words after which it ends wherever the words are: captions may have no sentence at all."""

PIECES = {
    chess.PAWN: "pawn",
    chess.KNIGHT: "knight",
    chess.BISHOP: "bishop",
    chess.ROOK: "rook",
    chess.QUEEN: "queen",
    chess.KING: "king",
}


def paragraphs(shown: Shown, changes: Changes, until: int | None = None) -> list[Paragraph]:
    """The whole talk in reading order; words from number `until` on are still being read."""
    out: list[Paragraph] = []
    lead = next((stretch for stretch in shown.stretches if not stretch.plain), None)
    for stretch in shown.stretches:
        changed = (stretch.first, stretch.last) in changes.spans
        for first, last in _sentences(shown, stretch):
            if not out or _ends(shown, out[-1], first):
                start = shown.times(first, last)[0]
                waits = until is not None and first >= until
                out.append(Paragraph("" if start is None else clock(start), waits))
            out[-1].pieces.append(Piece(stretch, first, last, shown.text(first, last), changed, stretch is lead))
            out[-1].words += last - first
    return out


def _sentences(shown: Shown, stretch: Stretch) -> Iterator[tuple[int, int]]:
    """Mere talk cut where a sentence ends; what means something stays whole."""
    first = stretch.first
    if stretch.plain:
        for word in range(stretch.first, stretch.last - 1):
            if shown.lesson.words[word].text.endswith((".", "?", "!")) or word - first >= LONGEST_PARAGRAPH:
                yield first, word + 1
                first = word + 1
    yield first, stretch.last


def _ends(shown: Shown, paragraph: Paragraph, word: int) -> bool:
    before = shown.lesson.words[word - 1].text if word else ""
    ends = before.endswith((".", "?", "!"))
    return paragraph.words >= LONGEST_PARAGRAPH or (ends and paragraph.words >= PARAGRAPH_WORDS)


def rows(shown: Shown, start: Spot) -> list[Row]:
    """A chapter's tree as print has it: a line is broken off for its sidelines and goes on after them."""
    out: list[Row] = []
    waiting: list[tuple[str, int]] = [(child, 0) for child in shown.children.get(start.id, ())[:1]]
    waiting[:0] = [(child, 1) for child in reversed(shown.children.get(start.id, ())[1:])]
    while waiting:
        name, depth = waiting.pop()
        run: list[Step] = []
        while True:
            spot = shown.spots[name]
            run.append(_step(spot, not run))
            siblings = shown.children.get(spot.parent or "", [])
            sidelines = siblings[1:] if siblings[0] == name else []
            following = shown.children.get(name, [])
            if sidelines or not following:
                break
            name = following[0]
        out.append(Row(depth, tuple(run)))
        if following:
            waiting.append((following[0], depth))
        waiting += [(side, depth + 1) for side in reversed(sidelines) if spot.parent != start.id]
    return out


def _step(spot: Spot, first: bool) -> Step:
    move = spot.move
    assert move is not None
    white = "..." not in spot.number
    label = spot.number if first or white else move.san
    return Step(spot, label, move.words, move.words[0] < move.words[1], move.flagged)


@dataclass(frozen=True, slots=True)
class Square:
    """A square as it is drawn; `name` is "e4", `says` what a screen reader calls it."""

    name: str
    column: int
    row: int
    dark: bool
    color: str
    piece: str
    says: str


def squares(fen: str, flip: bool) -> list[Square]:
    """All squares in reading order."""
    board = chess.Board(fen)
    out = []
    for row in range(8):
        for column in range(8):
            square = chess.square(7 - column, row) if flip else chess.square(column, 7 - row)
            man = board.piece_at(square)
            color = "" if man is None else "white" if man.color else "black"
            piece = PIECES[man.piece_type] if man else ""
            name = chess.square_name(square)
            says = f"{name}, {color} {piece}" if man else f"{name}, empty"
            dark = (chess.square_rank(square) + chess.square_file(square)) % 2 == 0
            out.append(Square(name, column, row, dark, color, piece, says))
    return out


def legal_moves(fen: str) -> dict[str, str]:
    """UCI -> SAN of every legal move."""
    board = chess.Board(fen)
    return {move.uci(): board.san(move) for move in board.legal_moves}


# ------------------------------------------------------------------------------------------------------------ rendering


@cache
def _environment() -> jinja2.Environment:
    loader = jinja2.FileSystemLoader(HERE / "templates")
    environment = jinja2.Environment(loader=loader, autoescape=True, trim_blocks=True, lstrip_blocks=True)
    environment.filters["clock"] = lambda ms: "" if ms is None else clock(ms)
    environment.undefined = jinja2.StrictUndefined
    return environment


def render(template: str, **values: Any) -> str:
    """A template of ours with the values put in, every one of them escaped."""
    return _environment().get_template(template).render(**values)


def read_share(session: Session) -> str:
    """How much of what is being read has been, "40 %"; "" when all has."""
    words = len(session.shown.lesson.words)
    return f"{100 * min(session.at, words) // max(1, words)} %" if session.pending else ""


def waiting(session: Session) -> str:
    """From where on the talk is still being read, as a sentence; "" when it is not."""
    if not session.pending:
        return ""
    start = None if session.until is None else session.shown.times(session.until, session.until)[0]
    where = "" if start is None else f" from {clock(start)} on"
    return f"The talk{where} is still being read again with your answers."


def main_part(session: Session) -> str:
    """The talk, the questions and the tree: what an answer may change."""
    shown = session.shown
    questions = ranked(shown)
    return render(
        "main.html",
        session=session,
        shown=shown,
        paragraphs=paragraphs(shown, session.changes, session.until),
        waiting=waiting(session),
        share=read_share(session),
        questions=questions,
        doubts=shown.doubts,
        notes=shown.notes,
        chapters=[(chapter, rows(shown, shown.spots[chapter.id])) for chapter in shown.lesson.chapters],
        moves=sum(len(chapter.moves) for chapter in shown.lesson.chapters),
    )


def card_part(session: Session, first: int, last: int, at: str, flip: bool) -> str:
    """The board and what can be said about words; the board stands at position `at` where that is given."""
    shown = session.shown
    count = len(shown.lesson.words)
    first = min(max(first, 0), count)
    what: Card = card(shown, first, min(max(last, first), count))
    spot = shown.spots.get(at, what.before)
    arrived = spot.move.uci if spot.move else ""
    return render(
        "card.html",
        session=session,
        card=what,
        spot=spot,
        moved=spot.id != what.before.id,
        line=tuple(shown.line(spot.id)),
        squares=squares(spot.fen, flip),
        flip=flip,
        turn="White" if spot.fen.split()[1] == "w" else "Black",
        legal=legal_moves(spot.fen),
        marks={arrived[:2], arrived[2:4]} - {""},
    )
