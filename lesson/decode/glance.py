"""A glance at what an answer changes, while the talk is read again: searched near the answer, patched farther on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from heapq import nlargest

import chess

from lesson.decode.actions import Action, Actor
from lesson.decode.beam import Beam, Item, Width, best_of, start
from lesson.decode.events import to_decoded
from lesson.decode.position import Tree
from lesson.decode.recall import Memory
from lesson.decode.thread import State
from lesson.hear.phrases import Phrase
from lesson.model import Decoded

# What a page can wait for: of the time of a whole reading's phrase, one in so narrow a beam takes about a tenth.
NEAR = 3  # phrases searched behind one that differs
MOST_STATES = 8  # hypotheses before the first that differs
NARROW = Width(states=5, per_cursor=2, spare=1, reach=2, ahead=1)


@dataclass(frozen=True, slots=True)
class Old:
    """A whole reading: after each item the state of its best hypothesis and how sure the step is; `told` are parent and
    move (UCI) of the nodes of that hypothesis, `starts` the boards of those without a parent."""

    items: Sequence[Item]
    chain: Sequence[State]
    steps: Sequence[float]
    told: Mapping[int, tuple[int, str]]
    starts: Mapping[int, chess.Board]


@dataclass(frozen=True, slots=True)
class Glance:
    """What the talk may become; words from number `until` on have only been patched. How sure the steps are is not
    worked out: those of the reading before stand, and what was answered is sure."""

    decoded: Decoded
    until: int


def glance(
    old: Old,
    items: Sequence[Item],
    history: Sequence[Sequence[State]],
    actor: Actor,
    trust: dict[str, float],
    memory: Memory,
) -> Glance:
    """The reading `old` with other items behind those whose hypotheses are in `history`; the nodes these hold are in
    the tree of `actor`; `trust` makes the confidences of lines; `memory` is that of the reading."""
    count = len(history)
    beam = Beam(actor.tree, actor, NARROW)
    beam.attend(items)
    states = nlargest(MOST_STATES, history[-1] if history else [beam.first()], key=lambda s: s.score)
    places = {(item.first, item.last): number for number, item in enumerate(old.items)}
    told = old.chain[count - 1].mask if count else 1
    patch = _Patch(old, beam, {n: n for n, (up, _) in old.told.items() if up < 0 and told >> n & 1})
    near = until = 0
    searched: list[int | None] = []  # of the items just searched, the old ones of the same words
    steps = list(old.steps[:count])
    for index in range(count, len(items)):
        item = items[index]
        before = places.get((item.first, item.last))
        same = before is not None and old.items[before] == item
        steps.append(1.0 if before is None or not same else old.steps[before])
        near = near - 1 if same else NEAR
        if not same or (near >= 0 and isinstance(item, Phrase)):
            states = nlargest(MOST_STATES, beam.step(index, items, states, None)[0], key=lambda s: s.score)
            searched.append(before)
            until = item.last
            continue
        best = best_of(states)
        patch.follow(best, searched)
        searched.clear()
        assert before is not None
        states = [patch.on(best, item, before)]
    return Glance(to_decoded(items, actor, best_of(states), steps, trust, memory), until)


@dataclass
class _Patch:
    """Goes on from a hypothesis of now as the best one of the old reading went on; `places` are nodes of now by those
    of then."""

    old: Old
    beam: Beam
    places: dict[int, int] = field(default_factory=dict)

    @property
    def tree(self) -> Tree:
        return self.beam.tree

    def follow(self, best: State, searched: Sequence[int | None]) -> None:
        """Where the items just searched led to a new move, and their words led to one then, the talk goes on alike."""
        now: State | None = best
        for before in reversed(searched):
            assert now is not None
            then = None if before is None else self.old.chain[before]
            if then is not None and _tells(then) and _tells(now):
                self.places.setdefault(then.cursor, now.cursor)
            now = now.back

    def on(self, state: State, item: Item, before: int) -> State:
        """One more item, taken for what the old one of that number was taken for; for nothing where that cannot be."""
        action = self.old.chain[before].action
        assert isinstance(action, Action)
        if isinstance(item, Phrase):
            return self.beam.apply(state, item, self._again(action, state) or action._replace(kind="none", moves=()))
        if action.kind != "chapter":
            return self.beam.restart(state, item, 1.0)[0]
        root = self.places[action.parent] = self.tree.add_root(self.old.starts[action.parent])
        return start(state, root, state.score, action._replace(parent=root))

    def _again(self, action: Action, state: State) -> Action | None:
        if action.kind == "none":
            return action
        if action.kind == "return":
            target = self._place(action.target, state)
            return None if target is None else action._replace(target=target)
        node = parent = self._place(action.parent, state)
        moves = []
        for then in action.moves:
            position = None if node is None else self.tree.position[node]
            if node is None or position is None or not position.board.is_legal(then.move):
                return None
            moves.append(position.choice(then.move))
            node = self.tree.child(node, moves[-1])
        return None if parent is None else action._replace(parent=parent, moves=tuple(moves))

    def _place(self, node: int, state: State) -> int | None:
        """The node of now, None where it is not told."""
        found = self.places.get(node)
        if found is None:
            up, uci = self.old.told[node]
            parent = self._place(up, state) if up >= 0 else None
            found = None if parent is None else self.tree.children[parent].get(uci)
            if found is None or not state.mask >> found & 1:
                return None
            self.places[node] = found
        return found


def _tells(state: State) -> bool:
    """Whether a move was told that had not been."""
    return state.back is not None and state.mask != state.back.mask and bool(getattr(state.action, "moves", ()))
