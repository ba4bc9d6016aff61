"""What a typed script means beyond doubt, as facts for the decoder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import takewhile

import chess

from lesson.check.diagrams import diagrams
from lesson.check.hearing import heard, signs
from lesson.hear.dictation import Dictation
from lesson.hear.phrases import Phrase
from lesson.hear.tokens import tokenise
from lesson.model import Fact

# So much more (-ln p) a reading costs that contradicts what was said; hand-set.
_APART = 1.0
# Words within which nothing is said to go to a square.
_NOTHING = 8


def certain(words: Sequence[str], items: Sequence[Phrase | Dictation]) -> Iterator[Fact]:
    """Positions at their letter, as nothing in them was misheard, and words that only sound like a capture or name
    the move that is not made."""
    tokens = tokenise(words)
    found = signs(tokens)
    idioms = {tokens[sign.first].word for sign in found if sign.kind == "idiom"}
    denied = {
        tokens[sign.last - 1].word + 1 for sign in found if sign.kind == "notthis" and not tokens[sign.last - 1].stop
    }
    for index, item in enumerate(items):
        if isinstance(item, Dictation):
            if item.positions and not item.flaws and _is_one(item):
                fen = item.positions[0].fen
                yield Fact(item.first, item.last, "chapter", fen=_at_home(fen) if _castles(items[index + 1 :]) else fen)
        elif (
            (item.kind == "take" and item.last - 1 in idioms)
            or item.first in denied
            or heard("nothing-goes").search(" ".join(words[max(item.last - _NOTHING, 0) : item.last]).lower())
        ):
            yield Fact(item.first, item.last, "talk")


def _castles(items: Sequence[Phrase | Dictation]) -> bool:
    """Whether somebody castles before another position is dictated."""
    told = takewhile(lambda item: isinstance(item, Phrase), items)
    return any(isinstance(item, Phrase) and item.kind == "castle" for item in told)


def _at_home(fen: str) -> str:
    """A position with the right to castle for kings and rooks that stand where they began: in a position nobody has
    played to, castling is allowed unless it can be shown not to be (Codex for Chess Composition, article 16; from
    memory)."""
    board = chess.Board(fen)
    board.castling_rights = chess.BB_CORNERS & board.rooks
    board.castling_rights = board.clean_castling_rights()
    return board.fen()


def drawn(words: Sequence[str]) -> Iterator[Fact]:
    """Positions written as FEN."""
    for diagram in diagrams(words):
        if not diagram.wrong:
            yield Fact(diagram.first, diagram.last, "chapter", fen=diagram.fen)


def _is_one(dictation: Dictation) -> bool:
    """Whether the squares named leave nothing open, such as who is to move."""
    best = dictation.positions[0]
    placed = [p.fen.split()[0] for p in dictation.positions if p.cost - best.cost < _APART]
    return placed.count(best.fen.split()[0]) == 1
