"""Forced alignment: follow the true tree through the phrases and note, at each phrase, what could have been done and
what truly was. Each example is a list of candidate actions' features and the set of right ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import chess

from lesson.decode.actions import Action, Actor, kind_of
from lesson.decode.beam import Beam, Item, Width
from lesson.decode.fit import Features
from lesson.decode.position import Choice, Tree
from lesson.decode.thread import State, habits_after, remember_person
from lesson.decode.weights import Weights
from lesson.hear.dictation import Dictation
from lesson.hear.phrases import Phrase
from lesson.learn.marked import Mark, Marked


@dataclass(frozen=True, slots=True)
class Example:
    """Candidate actions at one phrase (features each) and the indices of the right ones."""

    candidates: tuple[Features, ...]
    right: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One item on the true path: the state before and after it, and the features of every right action (empty when
    no right action was among the candidates, or the item is no phrase)."""

    index: int
    before: State
    after: State
    right: tuple[Features, ...]


@dataclass
class Forced:
    """Walks one transcript along its marks; `weights` only rank the candidates."""

    marked: Marked
    items: Sequence[Item]
    weights: Weights

    def __post_init__(self) -> None:
        self.tree = Tree()
        self.actor = Actor(self.tree, self.weights)
        self.beam = Beam(self.tree, self.actor, Width())
        self.examples: list[Example] = []
        self.taught: list[tuple[int, frozenset[str]]] = []  # the item of each example, and what it may rightly do
        self.steps: list[Step] = []
        self.lost = 0
        self.missed = 0
        root = self.tree.add_root(chess.Board())
        self.root = root
        self.state = State(1 << root, root, (root,), main=1 << root)

    def run(self) -> list[Example]:
        """All examples of the transcript."""
        plan = self._assign()
        marks = self.marked.marks
        done = 0
        for index, item in enumerate(self.items):
            mine = plan.get(index, [])
            if mine:
                while done < mine[0]:
                    if done + 1 < mine[0] or not self._left_out(marks[done], marks[mine[0]]):
                        self._silently(marks[done])
                    done += 1
            if isinstance(item, Dictation):
                continue
            while done < len(marks) and not mine and marks[done].act == "chapter" and marks[done].first <= item.first:
                self._silently(marks[done])
                done += 1
            before, known = self.state, len(self.examples)
            if mine:
                self._follow(index, item, [marks[k] for k in mine])
                done = mine[-1] + 1
            else:
                self._idle(index, item)
            right: tuple[Features, ...] = ()
            if len(self.examples) > known:
                example = self.examples[-1]
                right = tuple(example.candidates[k] for k in example.right)
            self.steps.append(Step(index, before, self.state, right))
        return self.examples

    # -- which phrase carries which mark

    def _assign(self) -> dict[int, list[int]]:
        """Phrase index -> marks it carries, in order. Replays the true tree to judge the fit."""
        tree, plan = Tree(), dict[int, list[int]]()
        actor = Actor(tree, Weights(DEFAULTS))
        root = tree.add_root(chess.Board())
        floor = 0
        for number, mark in enumerate(self.marked.marks):
            if mark.act == "chapter":
                root = tree.add_root(chess.Board(mark.fen))
            elif mark.act in ("play", "retell") and mark.san and mark.first < mark.last and mark.how != "unspoken":
                best = self._best_phrase(actor, tree, root, mark, floor, plan)
                if best is None:
                    self.lost += 1
                    continue
                plan.setdefault(best, []).append(number)
                floor = best
        self._assign_returns(plan)
        return plan

    def _assign_returns(self, plan: dict[int, list[int]]) -> None:
        """Returns and whole retellings take the phrases inside them that carry no move of their own."""
        for number, mark in enumerate(self.marked.marks):
            if mark.act == "return" or (mark.act == "retell" and not mark.san):
                for index, item in enumerate(self.items):
                    inside = isinstance(item, Phrase) and item.first < mark.last and mark.first < item.last <= mark.last
                    if inside and isinstance(item, Phrase) and item.leads:
                        continue  # the phrase after it says where to go on
                    if inside and index not in plan:
                        plan[index] = [number]

    def _best_phrase(
        self, actor: Actor, tree: Tree, root: int, mark: Mark, floor: int, plan: dict[int, list[int]]
    ) -> int | None:
        node = _walk(tree, root, mark.path[:-1])
        best: tuple[float, int] | None = None
        for index in range(floor, len(self.items)):
            item = self.items[index]
            if isinstance(item, Dictation) or item.last <= mark.first:
                continue
            if item.first >= mark.last:
                break
            taken = index in plan
            if item.kind == "name":
                if mark.how == "named":
                    return index
                continue
            two = item.both or item.swap or item.plural or item.split is not None
            follows = taken and self.marked.marks[plan[index][-1]].path == mark.path[:-1]
            if taken and not (two and follows):
                continue
            fits = actor.fits(index, item, node)
            if item.split is not None:
                fits = (
                    actor.fits(index, item.split[1], node) if taken else fits + actor.fits(index, item.split[0], node)
                )
            fit = next((f for f in fits if f.choice.uci == mark.path[-1]), None)
            if taken:
                if len(plan[index]) == 1 and (item.split is None or fit is not None):
                    return index
                continue
            if fit is not None and (best is None or fit.score > best[0]):
                best = (fit.score, index)
        return best[1] if best else None

    # -- walking

    def _node(self, mark: Mark, drop: int = 0) -> int:
        return _walk(self.tree, self.root, mark.path[: len(mark.path) - drop])

    def _silently(self, mark: Mark) -> None:
        """A mark no phrase carries: the state moves on without an example."""
        if mark.act == "chapter":
            self.root = self.tree.add_root(chess.Board(mark.fen))
            s = self.state
            self.state = State(
                s.mask | 1 << self.root,
                self.root,
                (self.root,),
                persons=s.persons,
                main=1 << self.root,
                habits=s.habits,
            )
        elif mark.act in ("play", "retell") and mark.san:
            parent = self._node(mark, 1)
            choice = self.tree.position[parent].by_uci[mark.path[-1]]
            self._jump_and_play(parent, choice)

    def _left_out(self, mark: Mark, following: Mark) -> bool:
        """Whether a mark no phrase carries is a new move that the next phrase can only follow: one to be filled in."""
        if mark.act != "play" or not mark.san or following.act not in ("play", "retell") or not following.san:
            return False
        node, up = self._node(mark), self._node(mark, 1)
        return following.path[:-1] == mark.path and not self.state.mask >> node & 1 and bool(self.state.mask >> up & 1)

    def _jump_and_play(self, parent: int, choice: Choice) -> None:
        action = Action("play", parent, (choice,), 1, (), 0.0)
        before = self.state.habits
        self.state = replace(_forget(self.beam.apply(self.state, _NO_PHRASE, action)), habits=before)

    def _ensure(self, node: int) -> None:
        """Plays whatever is missing up to `node` (a fill the beam would not think of)."""
        for step in self.tree.path(node)[1:]:
            if not self.state.mask >> step & 1:
                choice = self.tree.choice[step]
                assert choice is not None
                self._jump_and_play(self.tree.parent[step], choice)

    def _follow(self, index: int, phrase: Phrase, marks: Sequence[Mark]) -> None:
        first = marks[0]
        if first.act in ("play", "retell") and first.san:
            wanted = tuple(m.path[-1] for m in marks)
            parent = self._node(first, 1)
            actions = self.actor.actions(index, phrase, self.state)
            filled = not self.state.mask >> parent & 1
            if filled:
                up = self.tree.parent[parent]
                both = (self.tree.uci[parent], *wanted)
                there = [(k, _ucis(a)) for k, a in enumerate(actions) if a.kind == "play" and a.parent == up]
                right = [k for k, ucis in there if ucis == both]
                if not right:  # nobody said which move is missing: another will do as well if the talk goes on after it
                    right = [k for k, ucis in there if len(ucis) == len(both) and ucis[1:] == wanted]
            else:
                right = [
                    k for k, a in enumerate(actions) if a.kind == "play" and a.parent == parent and _ucis(a) == wanted
                ]
            self._example(index, actions, right)
            at = self.tree.parent[parent] if filled else parent
            habits = habits_after(self.state.habits, phrase, True, filled, at != self.state.cursor)
            self.state = replace(self.state, habits=habits)
            self._ensure(parent)
            node = parent
            for uci in wanted:
                choice = self.tree.position[node].by_uci[uci]
                self._jump_and_play(node, choice)
                node = self.tree.child(node, choice)
            if filled:
                self.state = replace(self.state, last="f")
            self._count_person(phrase, parent)
            return
        self._go(index, phrase, first)

    def _go(self, index: int, phrase: Phrase, mark: Mark) -> None:
        """A return, or a retelling as a whole: several actions can be right; the best of them is followed."""
        target = self._node(mark)
        actions = self.actor.actions(index, phrase, self.state)
        right = []
        path = self.tree.path(target)
        for k, action in enumerate(actions):
            if action.kind == "return" and action.target == target:
                right.append(k)
            elif action.kind == "play" and mark.act == "retell":
                end = self.tree.children[action.parent].get(action.moves[-1].uci, -1) if len(action.moves) == 1 else -1
                if end in path and self.state.mask >> end & 1:
                    right.append(k)
        if not right:
            right = [0]
        self._example(index, actions, right)
        chosen = max(right, key=lambda k: (actions[k].score, -k))
        self.state = _forget(self.beam.apply(self.state, phrase, actions[chosen]))

    def _idle(self, index: int, phrase: Phrase) -> None:
        actions = self.actor.actions(index, phrase, self.state)
        self._example(index, actions, [0])
        self.state = _forget(self.beam.apply(self.state, phrase, actions[0]))

    def _example(self, index: int, actions: Sequence[Action], right: Sequence[int]) -> None:
        if not right:
            self.missed += 1
            return
        self.taught.append((index, frozenset(kind_of(actions[k], self.state, self.tree) for k in right)))
        self.examples.append(Example(tuple(a.features for a in actions), tuple(right)))

    def _count_person(self, phrase: Phrase, parent: int) -> None:
        white = bool(self.tree.position[parent].board.turn)
        self.state = replace(self.state, persons=remember_person(self.state, phrase, white))


DEFAULTS = {
    "file": -1.0,
    "rank": -1.2,
    "piece+": 2.0,
    "take+": 1.0,
    "take?": -3.0,
    "take-": -1.0,
    "check+": 1.5,
    "check-": -3.0,
    "check~": -0.7,
    "mate+": 2.0,
    "mate-": -3.0,
    "mate~": -1.0,
    "victim+": 1.5,
    "victim-": -4.0,
    "loose:take": -0.7,
    "loose:piece": -1.0,
    "loose:check": -1.0,
    "loose:pawn": -0.7,
    "ofile": -1.0,
    "origin": -1.0,
    "bare:piece": -1.5,
    "book": 0.2,
    "book-": -0.5,
    "hang": -0.2,
    "guess": -0.7,
    "soft+": 1.0,
    "soft-": -2.0,
    "gain": 0.3,
    "again+": 1.0,
    "exact": 0.5,
    "fill": -3.0,
    "fill:fits": -2.0,
    "fill:likely": 1.0,
    **{f"piece-{p}": -4.0 for p in "PNBRQK"},
}
"""Hand-set weights used only to rank candidates while examples are gathered, beside those of moves left unsaid."""

_NO_PHRASE = Phrase(0, 0, "none")


def _forget(state: State) -> State:
    return replace(state, back=None, action=None, score=0.0)


def _ucis(action: Action) -> tuple[str, ...]:
    return tuple(c.uci for c in action.moves)


def _walk(tree: Tree, root: int, path: Sequence[str]) -> int:
    node = root
    for uci in path:
        node = tree.child(node, tree.position[node].by_uci[uci])
    return node
