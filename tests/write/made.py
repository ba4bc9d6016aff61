"""Lessons made by hand for the writers' tests."""

from __future__ import annotations

from typing import Any

import chess

from lesson.assemble import assemble
from lesson.model import Cue, Decoded, Event, Lesson, Node, Rival, Talk, Word

__all__ = ["Rival", "chain", "ladder", "lesson_of", "line_of", "said", "tree_of"]

_SHUFFLE = ("g1f3", "g8f6", "f3g1", "f6g8")


def said(text: str, pace_ms: int | None = None) -> Talk:
    """A talk of the words of `text`, one every `pace_ms`; without times where that is None."""
    words = tuple(
        Word(word, None if pace_ms is None else i * pace_ms, None if pace_ms is None else (i + 1) * pace_ms)
        for i, word in enumerate(text.split())
    )
    return Talk("study", "made", words, (Cue(0, len(words)),))


def lesson_of(talk: Talk, nodes: tuple[Node, ...] = (), events: tuple[Event, ...] = (), **rest: Any) -> Lesson:
    """The lesson of `talk` and an answer made by hand; without nodes, of a talk in which nothing was heard."""
    return assemble(talk, Decoded(nodes, events, **rest))


def tree_of(*lines: str, fen: str = chess.STARTING_FEN) -> tuple[Node, ...]:
    """One chapter's nodes from lines of SAN that share their beginnings: "e4 e5 Nf3", "e4 c5"."""
    nodes = [Node(0, 0, -1, "", "", fen)]
    known: dict[tuple[int, str], int] = {}
    for line in lines:
        at = 0
        for text in line.split():
            board = chess.Board(nodes[at].fen)
            move = board.parse_san(text)
            if (at, move.uci()) not in known:
                san = board.san_and_push(move)
                known[at, move.uci()] = len(nodes)
                nodes.append(Node(len(nodes), 0, at, move.uci(), san, board.fen()))
            at = known[at, move.uci()]
    return tuple(nodes)


def line_of(*lines: str, fen: str = chess.STARTING_FEN) -> Lesson:
    """A lesson of bare moves: the words are the moves themselves, the lines told one after the other."""
    nodes = tree_of(*lines, fen=fen)
    moves = [node for node in nodes if node.parent >= 0]
    events = tuple(Event("play", i, i + 1, node.id, node.uci, node.san) for i, node in enumerate(moves))
    return lesson_of(said(" ".join(node.san for node in moves)), nodes, events)


def chain(plies: int) -> Lesson:
    """One line of `plies` moves, knights going out and home."""
    board = chess.Board()
    nodes = [Node(0, 0, -1, "", "", board.fen())]
    for ply in range(plies):
        uci = _SHUFFLE[ply % 4]
        san = board.san_and_push(chess.Move.from_uci(uci))
        nodes.append(Node(ply + 1, 0, ply, uci, san, board.fen()))
    return _told(nodes)


def ladder(depth: int) -> Lesson:
    """Sidelines nested `depth` deep: each step has its main move and a sideline in which the next step is told."""
    board = chess.Board()
    nodes = [Node(0, 0, -1, "", "", board.fen())]
    for _ in range(depth):
        parent = nodes[-1]
        board = chess.Board(parent.fen)
        knights = board.generate_legal_moves(from_mask=board.knights)
        for move in sorted(knights, key=chess.Move.uci)[:2]:
            after = board.copy(stack=False)
            san = after.san_and_push(move)
            nodes.append(Node(len(nodes), 0, parent.id, move.uci(), san, after.fen()))
    return _told(nodes)


def _told(nodes: list[Node]) -> Lesson:
    moves = nodes[1:]
    events = tuple(Event("play", i, i + 1, node.id, node.uci, node.san) for i, node in enumerate(moves))
    return lesson_of(said(" ".join(node.san for node in moves)), tuple(nodes), events)
