"""The best hypothesis -> the decoder's answer in the project's own nouns."""

from __future__ import annotations

from collections.abc import Sequence

from lesson.decode.actions import Action
from lesson.decode.beam import Item
from lesson.decode.position import Tree
from lesson.decode.thread import State
from lesson.hear.phrases import Phrase
from lesson.model import Decoded, Event, Node, Talk


def to_decoded(talk: Talk, items: Sequence[Item], tree: Tree, best: State, confidences: Sequence[float]) -> Decoded:
    """Nodes and events of the best hypothesis, in the order told."""
    steps: list[tuple[State, Action]] = []
    state: State | None = best
    while state is not None and state.back is not None:
        assert isinstance(state.action, Action)
        steps.append((state, state.action))
        state = state.back
    steps.reverse()
    first_root = state.cursor if state is not None else 0
    writer = _Writer(tree)
    writer.chapter(first_root)
    for (after, action), item, confidence in zip(steps, items, confidences, strict=True):
        writer.add(after, action, item, confidence)
    return writer.done()


class _Writer:
    def __init__(self, tree: Tree) -> None:
        self.tree = tree
        self.nodes: list[Node] = []
        self.ids: dict[int, int] = {}
        self.events: list[Event] = []
        self.chapters = 0
        self.cursor = -1

    def chapter(self, root: int) -> None:
        self.ids[root] = len(self.nodes)
        fen = self.tree.position[root].board.fen()
        self.nodes.append(Node(len(self.nodes), self.chapters, -1, "", "", fen))
        self.chapters += 1
        self.cursor = root

    def node(self, node: int) -> int:
        known = self.ids.get(node)
        if known is None:
            parent = self.node(self.tree.parent[node])
            choice = self.tree.choice[node]
            assert choice is not None
            known = self.ids[node] = len(self.nodes)
            board = choice.board
            fen = self.tree.position[node].board.fen()
            self.nodes.append(Node(known, self.chapters - 1, parent, choice.uci, board.san(choice.move), fen))
        return known

    def add(self, after: State, action: Action, item: Item, confidence: float) -> None:
        first, last = item.first, item.last
        if action.kind == "chapter":
            self.chapter(action.parent)
            self.events.append(Event("chapter", first, last, self.ids[action.parent], confidence=confidence))
            return
        if not isinstance(item, Phrase):
            return
        if action.kind == "none":
            if item.kind in ("square", "castle", "take"):
                self.events.append(Event("mention", first, last, self.ids[self.cursor], confidence=confidence, lead=item.lead))
            return
        if action.kind == "return":
            target = self.node(action.target)
            self.events.append(Event("return", first, last, target, confidence=confidence, lead=item.lead))
        else:
            self._play(action, item, confidence)
        self.cursor = after.cursor

    def _play(self, action: Action, item: Phrase, confidence: float) -> None:
        if action.parent != self.cursor:
            at = self.node(action.parent)
            self.events.append(Event("return", item.first, item.first, at, confidence=confidence, lead=item.lead))
        node = action.parent
        fills = len(action.moves) - action.named
        for number, named in enumerate(action.moves):
            choice = self.tree.position[node].choice(named.move)
            node = self.tree.child(node, choice)
            known = node in self.ids
            here = self.node(node)
            unspoken = number < fills
            self.events.append(
                Event(
                    "retell" if known else "play",
                    item.first,
                    item.first if unspoken else item.last,
                    here,
                    choice.uci,
                    self.nodes[here].san,
                    "inferred" if unspoken else "named" if item.kind == "name" else "said",
                    confidence,
                    lead=item.lead,
                )
            )

    def done(self) -> Decoded:
        titles = tuple(f"Chapter {i + 1}" for i in range(self.chapters))
        return Decoded(tuple(self.nodes), tuple(self.events), {}, titles)
