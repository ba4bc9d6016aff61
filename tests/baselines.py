"""Two simple ways to do the job, which the product must beat. Both return the decoder's record.

`literal`: a regular expression finds exact piece, square and castling words; the first legal move at the cursor that
fits is played. `greedy`: every phrase is compared with the spoken forms of every legal move at the cursor; the most
alike one above a threshold is played. Neither goes back, neither starts a new game, neither knows a mere mention: a
phrase that fits no legal move is talk.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

import chess
import numpy as np
from rapidfuzz.distance import Indel
from rapidfuzz.process import cdist

from lesson.align import spelled
from lesson.model import Decoded, Event, Node, Talk

_PIECES = ("pawn", "knight", "bishop", "rook", "queen", "king")
_NAME = "|".join(_PIECES)
_LITERAL = re.compile(
    rf"\b(?:castl(?:es?|ed|ing)(?:\s+(?P<side>king|queen)\s?-?side|\s+(?P<length>short|long))?"
    rf"|(?:(?P<piece>{_NAME})\s+|(?P<file>[a-h])[\s-]*(?=takes\b|captures\b|x\b))?"
    rf"(?P<takes>(?:takes|captures|x)\s+(?:on\s+)?)?(?:to\s+)?"
    rf"(?P<square>[a-h][1-8])(?:\s*=?\s*(?P<promoted>knight|bishop|rook|queen)\b(?!\s+[a-h][1-8]))?)\b"
)

# Greedy: from left to right, the longest window of up to LONGEST words of a phrase that is this alike (0..1) to the
# spoken form of a move is played. Of eight THRESHOLDs from 0.75 to 1
# this one gave the best mean F1 on the exact words of the sample talks.
THRESHOLD, LONGEST = 0.92, 5


class _Line:
    """One growing line of moves from the initial position."""

    def __init__(self) -> None:
        self.board = chess.Board()
        self.nodes = [Node(0, 0, -1, "", "", self.board.fen())]
        self.events: list[Event] = []

    def play(self, move: chess.Move, first: int, last: int, confidence: float) -> None:
        san = self.board.san(move)
        self.board.push(move)
        node = len(self.nodes)
        self.nodes.append(Node(node, 0, node - 1, move.uci(), san, self.board.fen()))
        self.events.append(Event("play", first, last, node, move.uci(), san, confidence=confidence))

    def decoded(self) -> Decoded:
        return Decoded(tuple(self.nodes), tuple(self.events), titles=("",))


def literal(talk: Talk) -> Decoded:
    """The literal reader. Its confidence is always 1: it knows no doubt."""
    line, text, starts = _Line(), "", []
    for word in talk.words:
        starts.append(len(text))
        text += word.text.lower() + " "
    for found in _LITERAL.finditer(text):
        fitting = [m for m in _in_order(line.board) if _fits(line.board, m, found)]
        if fitting:
            first = _word_at(starts, found.start())
            line.play(fitting[0], first, _word_at(starts, found.end() - 1) + 1, 1.0)
    return line.decoded()


def _word_at(starts: list[int], at: int) -> int:
    return int(np.searchsorted(starts, at, side="right")) - 1


def _in_order(board: chess.Board) -> list[chess.Move]:
    return sorted(board.legal_moves, key=chess.Move.uci)


def _fits(board: chess.Board, move: chess.Move, found: re.Match[str]) -> bool:
    side, length, square, piece = found["side"], found["length"], found["square"], found["piece"]
    if square is None:
        kingside = side == "king" or length == "short" or (side is None and length is None)
        return board.is_kingside_castling(move) if kingside else board.is_queenside_castling(move)
    if board.is_castling(move) or chess.square_name(move.to_square) != square:
        return False
    mover = _PIECES[(board.piece_type_at(move.from_square) or 1) - 1]
    # a bare square is a pawn move; "takes e5" leaves the piece open
    if mover != (piece or ("pawn" if not found["takes"] or found["file"] else mover)):
        return False
    if found["file"] and chess.square_name(move.from_square)[0] != found["file"]:
        return False
    if move.promotion is not None and _PIECES[move.promotion - 1] != (found["promoted"] or "queen"):
        return False
    return not found["takes"] or board.is_capture(move)


def greedy(talk: Talk) -> Decoded:
    """The greedy matcher. Its confidence is the likeness of the phrase to the form it was matched with."""
    line = _Line()
    keys = [spelled(word.text) for word in talk.words]
    ends = _phrase_ends(word.text for word in talk.words)
    at = 0
    while at < len(keys):
        forms = _forms(line.board.fen())
        windows = ["".join(keys[at:end]) for end in range(at + 1, min(at + LONGEST, ends[at]) + 1)]
        alike = cdist(windows, list(forms), scorer=Indel.normalized_similarity, dtype=np.float64)
        # longer phrases say more: "night f3" is a knight's move although "f3" alone is a perfect pawn's move
        merit = np.where(alike >= THRESHOLD, alike * np.array([[len(w)] for w in windows]), 0.0)
        if merit.size and merit.max() > 0:
            window, form = np.unravel_index(int(merit.argmax()), merit.shape)
            move = chess.Move.from_uci(list(forms.values())[int(form)])
            line.play(move, at, at + int(window) + 1, float(alike[window, form]))
            at += int(window) + 1
        else:
            at += 1
    return line.decoded()


def _phrase_ends(words: Iterable[str]) -> list[int]:
    """For each word the end of its phrase: phrases end at punctuation."""
    texts = list(words)
    ends, end = [0] * len(texts), len(texts)
    for i in range(len(texts) - 1, -1, -1):
        if texts[i][-1:] in ",.;:?!":
            end = i + 1
        ends[i] = end
    return ends


@lru_cache(maxsize=4096)
def _forms(fen: str) -> dict[str, str]:
    """Spoken form (as compared) -> UCI, for every legal move; a form that several moves share goes to the first."""
    board = chess.Board(fen)
    forms: dict[str, str] = {}
    for move in _in_order(board):
        for form in _spoken(board, move):
            forms.setdefault("".join(spelled(word) for word in form.split()), move.uci())
    return forms


def _spoken(board: chess.Board, move: chess.Move) -> list[str]:
    if board.is_castling(move):
        side = "king" if board.is_kingside_castling(move) else "queen"
        return ["castles", "castled", f"castles {side}side", "castles short" if side == "king" else "castles long"]
    kind = board.piece_type_at(move.from_square) or chess.PAWN
    piece, start, target = _PIECES[kind - 1], chess.square_name(move.from_square), chess.square_name(move.to_square)
    forms = [f"{piece} {target}", f"{piece} to {target}", f"{piece} {start[0]} {target}"]
    if kind == chess.PAWN:
        forms = [target, f"{piece} {target}", f"{piece} to {target}"]
    if board.is_capture(move):
        forms = [f"{piece} takes {target}", f"{piece} takes on {target}", f"takes on {target}", f"takes {target}"]
        victim = board.piece_type_at(move.to_square) or chess.PAWN
        forms += [
            f"{piece} takes {_PIECES[victim - 1]}",
            f"{piece} takes",
            f"{piece} {target}",
            f"takes with the {piece}",
        ]
        forms += ["takes", "takes back", f"takes the {_PIECES[victim - 1]}"]
        if kind == chess.PAWN:
            forms += [f"{start[0]} takes {target}", f"{start[0]} takes"]
    if move.promotion:
        name = _PIECES[move.promotion - 1]
        forms = [f"{form} {name}" for form in forms] + (forms if move.promotion == chess.QUEEN else [])
    return forms
