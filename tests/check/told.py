"""The decoder's answer to a talk as it ought to be: from the marks of its true tree."""

from __future__ import annotations

from typing import cast

import chess

from lesson.model import Act, Decoded, Event, Node
from tests.accuracy.gold import GoldTalk


def told_truly(gold: GoldTalk) -> Decoded:
    """Nodes and events of the marked stretches; an unspoken move has an empty range where the talk stands."""
    nodes: list[Node] = []
    ids: dict[tuple[int, tuple[str, ...]], int] = {}

    def node(chapter: int, path: tuple[str, ...]) -> int:
        known = ids.get((chapter, path))
        if known is None:
            if path:
                parent = node(chapter, path[:-1])
                board = chess.Board(nodes[parent].fen)
                san = board.san_and_push(chess.Move.from_uci(path[-1]))
                made = Node(len(nodes), chapter, parent, path[-1], san, board.fen())
            else:
                made = Node(len(nodes), chapter, -1, "", "", gold.starts[chapter])
            known = ids[chapter, path] = made.id
            nodes.append(made)
        return known

    at, chapter, end = node(0, ()), 0, 0
    events: list[Event] = []
    for span in gold.spans:
        first, last = span.words
        if first == last:
            first = last = max(first, end)
        end = max(end, last)
        act = cast(Act, span.act)
        uci = ""
        if act == "chapter":
            chapter += bool(events)
            at = node(chapter, ())
        elif act == "mention":
            board = chess.Board(nodes[at].fen)
            legal = {board.san(move): move.uci() for move in board.legal_moves}
            uci = legal.get(span.san, "")
        else:
            chapter = span.chapter
            at = node(chapter, span.path)
            uci = span.path[-1] if span.path and act != "return" else ""
        events.append(Event(act, first, last, at, uci, span.san))
    return Decoded(tuple(nodes), tuple(events))
