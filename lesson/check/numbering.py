"""Written move numbers that leave out a move: "4. Nxd4 g6 6. Be3"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import chess

from lesson.check.fault import Fault
from lesson.check.notation import number_before
from lesson.model import Decoded, Event, Node


def numbering_faults(words: Sequence[str], decoded: Decoded) -> Iterator[Fault]:
    """Numbers that run ahead of the moves told since the number before, in one line.

    `words` are those of the file, before notation is made speech. A script whose numbers start anywhere else (an ending
    that calls its first move 41) runs ahead of nothing.
    """
    before: tuple[int, int] | None = None
    for word, (text, following) in enumerate(pairwise([*words, ""])):
        # What follows the dots is the move.
        match = number_before(text, following)
        if match is None:
            continue
        event = _move_at(decoded, word + (match.end() == len(text)))
        if event is None:
            continue
        parent = decoded.nodes[event.node].parent
        board = chess.Board(decoded.nodes[parent].fen)
        ahead = int(match["number"]) - board.fullmove_number
        if before is not None and before[1] in _line(decoded.nodes, event.node) and ahead > before[0]:
            missing = ahead - before[0]
            message = f"{missing} move{'s are' if missing > 1 else ' is'} missing before move {match['number']}"
            yield Fault("skipped", message, event.first, event.last, board.fen())
        before = ahead, event.node


def written_numbers(words: Sequence[str]) -> dict[int, tuple[int, chess.Color]]:
    """The number and the side written before a move, by the word of the move: "4..." is Black's fourth."""
    out = {}
    for word, (text, following) in enumerate(pairwise([*words, ""])):
        if match := number_before(text, following):
            at = word + (match.end() == len(text))
            out[at] = int(match["number"]), match["dots"] in ("", ".")
    return out


def _move_at(decoded: Decoded, word: int) -> Event | None:
    """The move that is told from a word on."""
    told = (e for e in decoded.events if e.act in ("play", "retell") and e.uci and e.first < e.last)
    return next((e for e in told if e.first == word), None)


def _line(nodes: Sequence[Node], node: int) -> set[int]:
    """A node and those before it."""
    out = set()
    while node >= 0:
        out.add(node)
        node = nodes[node].parent
    return out
