"""What the answer needs of a phrase at a position, worked out once for all readings of a talk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar, cast

from lesson.decode.position import Tree
from lesson.hear.phrases import Phrase

# Answers kept before all are let go; an hour's talk asks for some five thousand.
_MOST_KEPT = 20_000

T = TypeVar("T")


@dataclass
class Memory:
    """What is remembered from one reading to the next. It holds as long as the weights and the teacher's own analysis
    are the same. Lines are numbered by what was played in them, because the nodes of two readings differ."""

    lines: dict[tuple[int, str], int] = field(default_factory=dict)
    written: dict[int, tuple[str, str]] = field(default_factory=dict)
    of_phrases: dict[tuple[int, int, str], tuple[Phrase, object]] = field(default_factory=dict)

    def make_room(self) -> None:
        """Lets go of everything if it has become too much; asked again, it is worked out again."""
        if max(len(self.lines), len(self.of_phrases)) > _MOST_KEPT:
            self.lines.clear()
            self.written.clear()
            self.of_phrases.clear()


class Recall:
    """The memory, asked about the nodes of one tree."""

    def __init__(self, tree: Tree, memory: Memory) -> None:
        memory.make_room()
        self.tree, self.memory = tree, memory
        self._lines: dict[int, int] = {}

    def written(self, node: int) -> tuple[str, str]:
        """The last move of a node in SAN, "" at a chapter's start, and its position in FEN."""
        line = self._line(node)
        found = self.memory.written.get(line)
        if found is None:
            choice = self.tree.choice[node]
            san = "" if choice is None else choice.board.san(choice.move)
            found = self.memory.written[line] = san, self.tree.position[node].board.fen()
        return found

    def once(self, phrase: Phrase, node: int, what: str, ask: Callable[[], T]) -> T:
        """The answer to a question, named `what`, that only the phrase and the line to the node decide."""
        key = id(phrase), self._line(node), what
        found = self.memory.of_phrases.get(key)
        if found is None:
            # the phrase is kept with the answer: as long as it lives, no other has its id
            found = self.memory.of_phrases[key] = phrase, ask()
        return cast(T, found[1])

    def _line(self, node: int) -> int:
        found = self._lines.get(node)
        if found is None:
            up = self.tree.parent[node]
            key = (self._line(up), self.tree.uci[node]) if up >= 0 else (-1, self.tree.position[node].board.fen())
            found = self._lines[node] = self.memory.lines.setdefault(key, len(self.memory.lines))
        return found
