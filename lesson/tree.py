"""The told tree, its moves in order and under the names they keep in the lesson."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import chess

from lesson.model import Decoded


class Tree:
    """The told tree with its lasting ids: moves are numbered in the order told, across chapters."""

    def __init__(self, decoded: Decoded) -> None:
        self.nodes = decoded.nodes
        told: dict[int, int] = {}
        for index, event in enumerate(decoded.events):
            if event.act == "play":
                told.setdefault(event.node, index)
        never = len(decoded.events)
        order = sorted(self.nodes, key=lambda node: (told.get(node.id, never), node.id))
        self.starts = sorted((node for node in order if node.parent < 0), key=lambda node: (node.chapter, node.id))
        self.chapter_ids = {node.id: f"c{number}" for number, node in enumerate(self.starts, 1)}
        moves = [node for node in order if node.parent >= 0]
        self.move_ids = {node.id: f"m{number}" for number, node in enumerate(moves, 1)}
        self.children: dict[int, list[int]] = {}
        for node in moves:
            self.children.setdefault(node.parent, []).append(node.id)
        for parent, child in decoded.main.items():
            siblings = self.children.get(parent, [])
            if child in siblings:
                siblings.remove(child)
                siblings.insert(0, child)
        self._start_of: dict[int, int] = {}
        for start in self.starts:
            self._start_of.update((node, start.id) for node in (start.id, *self.below(start.id)))

    def below(self, start: int) -> Iterator[int]:
        """The nodes under `start`: a move, then all that follows it, then its sidelines in order."""
        waiting = list(reversed(self.children.get(start, [])))
        while waiting:
            node = waiting.pop()
            yield node
            waiting.extend(reversed(self.children.get(node, [])))

    def chapter_id(self, node: int) -> str:
        return self.chapter_ids[self._start_of[node]]

    def move_id(self, node: int) -> str | None:
        """None at a chapter's start."""
        return self.move_ids.get(node)

    def line(self, node: int) -> str:
        """The moves that lead to `node`, numbered: "1. e4 e5 2. Nf3"; "" at a chapter's start."""
        sans: list[str] = []
        while self.nodes[node].parent >= 0:
            sans.append(self.nodes[node].san)
            node = self.nodes[node].parent
        ply = _ply(self.nodes[node].fen)
        tokens: list[str] = []
        for offset, san in enumerate(reversed(sans)):
            number, black = divmod(ply + offset, 2)
            if not black or not offset:
                tokens.append(f"{number + 1}." if not black else f"{number + 1}...")
            tokens.append(san)
        return " ".join(tokens)


# Every question of a lesson asks it of its chapter's start.
@lru_cache(maxsize=256)
def _ply(fen: str) -> int:
    """Half-moves made before a position, as its move number has it."""
    return chess.Board(fen).ply()
