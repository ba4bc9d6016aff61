"""Looking ahead: how well the next phrases could go on from a node, whatever hypothesis stands there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from lesson.decode.actions import Actor
from lesson.hear.dictation import Dictation
from lesson.hear.phrases import Phrase


@dataclass
class Ahead:
    """Scores the best way through the next `depth` phrases that only plays on or stays, by dynamic programming.

    Returns are left out, so the hope is a lower bound on what a hypothesis can still score; `leave` bounds what it can
    fall short by, because a talk that turns elsewhere next can do so from any node.
    """

    actor: Actor
    items: Sequence[Phrase | Dictation]
    depth: int
    leave: float
    _plain: dict[int, tuple[float, float, float]] = field(default_factory=dict)
    _found: dict[int, dict[tuple[int, int], float]] = field(default_factory=dict)

    def hopes(self, index: int, cursors: Sequence[int]) -> dict[int, float]:
        """For each cursor before phrase number `index`, what to add to a hypothesis's score when ranking it."""
        for old in [k for k in self._found if k < index]:
            del self._found[old]
        found = {cursor: self._best(index, cursor, self.depth) for cursor in cursors}
        floor = max(found.values(), default=0.0) - self.leave
        return {cursor: max(floor, hope) for cursor, hope in found.items()}

    def forget(self) -> None:
        """Lets go of everything; asked again, it is worked out again."""
        self._found.clear()
        self._plain.clear()

    def _best(self, index: int, node: int, depth: int) -> float:
        if depth == 0 or index >= len(self.items):
            return 0.0
        phrase = self.items[index]
        if isinstance(phrase, Dictation):
            return 0.0
        table = self._found.setdefault(index, {})
        found = table.get((node, depth))
        if found is None:
            found = table[node, depth] = self._work_out(index, phrase, node, depth)
        return found

    def _work_out(self, index: int, phrase: Phrase, node: int, depth: int) -> float:
        actor, tree = self.actor, self.actor.tree
        plain = self._plain.get(index)
        if plain is None:
            misfit, fit = (actor.nothing_score(index, phrase, fits, "p") for fits in (False, True))
            plain = self._plain[index] = (misfit, fit, actor.stay_score(index, phrase))
        named = actor.clean(index, phrase, node)
        best = plain[bool(named)] + self._best(index + 1, node, depth - 1)
        if named and phrase.kind != "name":
            child = tree.child(node, named[0].choice)
            best = max(best, named[0].score + plain[2] + self._best(index + 1, child, depth - 1))
        return best
