"""The search: a beam over hypotheses. Frozen states, small verbs: extend, merge, prune, settle."""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain

import chess

from lesson.decode.actions import Action, Actor
from lesson.decode.ahead import Ahead
from lesson.decode.position import Kept, Tree
from lesson.decode.thread import State, carried, habits_after, left_tips, moved, remember_person
from lesson.hear.dictation import Dictation
from lesson.hear.phrases import Phrase

Item = Phrase | Dictation
# Nodes a hypothesis may return to; what was told longer ago is only found through the chapter's start. A talk of five
# minutes tells up to 140; without a bound an hour's talk would cost the square of a short one's time.
MOST_NODES, KEPT_NODES = 260, 200
REST_EVERY = 25  # phrases between looks for positions no hypothesis holds any more; bounds the memory of long talks
# By how badly the talk was heard: weight of a dictated position's own cost beside the moves that follow. Set by hand,
# the latter two on four talks with dictated positions; half as much more changes little.
_ROOT_COST = (4.0, 2.2, 1.8)


@dataclass(frozen=True, slots=True)
class Width:
    """Sizes of the beam: hypotheses kept, kept per cursor, start positions kept after k phrases.

    Of hypotheses that read the last `memory` phrases alike, `alike` are kept, and `spare` more of all such, the
    likeliest: old doubts would otherwise multiply until nothing else had room, but some are settled only late. `reach`
    times `states` actions are carried out before pruning. Hypotheses are ranked with what the next `ahead` phrases
    promise them, `leave` at most below the most promising.
    """

    states: int = 48
    per_cursor: int = 6
    memory: int = 8
    alike: int = 1
    spare: int = 12
    reach: int = 4
    ahead: int = 3
    leave: float = 5.0
    roots: tuple[int, ...] = (150, 140, 120, 100, 80, 60, 45, 35, 28, 22, 17, 13, 10, 8, 6, 4, 3, 2, 1)
    per_root: int = 3


@dataclass
class Track:
    """What a search leaves behind, so that another can go on from any item it has passed.

    `history` are the hypotheses after each item, `fresh` the phrases since a dictated position by then (None: there was
    none). `kept` has, for each stretch of items up to a number of items passed, the nodes its hypotheses hold.
    """

    history: list[list[State]] = field(default_factory=list)
    fresh: list[int | None] = field(default_factory=list)
    kept: list[tuple[int, dict[int, Kept]]] = field(default_factory=list)

    def first(self, count: int) -> Track:
        """The track as it was after `count` items."""
        return Track(self.history[:count], self.fresh[:count], [pair for pair in self.kept if pair[0] <= count])

    def upto(self, count: int) -> Track:
        """The same, with the nodes written down later for what came last."""
        kept = self.first(count).kept
        return Track(self.history[:count], self.fresh[:count], [*kept, *self.kept[len(kept) : len(kept) + 1]])

    def nodes_at(self, count: int) -> dict[int, Kept]:
        """The nodes written down for the stretch that item number `count` - 1 is in; there must be such an item."""
        return next(nodes for last, nodes in self.kept if last >= count)

    def keep(self, tree: Tree) -> None:
        """Write down the nodes of the items passed since it was last done."""
        first, before = self.kept[-1] if self.kept else (0, {})
        if len(self.history) > first:
            held = 0
            for states in self.history[first:]:
                for state in states:
                    held |= state.mask
            self.kept.append((len(self.history), tree.kept(held, before)))


def _go_on(item: int) -> None:
    pass


@dataclass
class Beam:
    """Runs the search over the items of a talk and keeps a record for the confidences. What it finds does not depend on
    the numbers of the nodes. `between` is called again and again on the way, with the number of the item that is being
    heard, and may raise to give the search up."""

    tree: Tree
    actor: Actor
    width: Width = field(default_factory=Width)
    lag: int = 8
    between: Callable[[int], None] = _go_on
    ahead: Ahead = field(init=False)

    def run(self, items: Sequence[Item], track: Track | None = None) -> tuple[State, list[float]]:
        """The best hypothesis after all items, and for each item the confidence in what it was taken for. With a
        `track` the search goes on behind the items in it, and writes down what it finds; without one it lets go of
        every hypothesis that none of now goes back to, most of the memory of a long talk."""
        votes: list[_Votes] = []
        states, count = [self.first()], 0
        for states in chain(() if track is None else list(track.history), self.walk(items, track)):
            count += 1
            if count > self.lag:
                votes.append(_votes(states, self.lag))
        votes += [_votes(states, count - 1 - index) for index in range(len(votes), count)]
        best = best_of(states)
        return best, _agreement(best, votes)

    def walk(self, items: Sequence[Item], track: Track | None = None) -> Iterator[list[State]]:
        """The hypotheses after each item, from the first on that is not in the `track`."""
        self.attend(items)
        states = track.history[-1] if track is not None and track.history else [self.first()]
        fresh = track.fresh[-1] if track is not None and track.fresh else None  # phrases since a dictated position
        try:
            for index in range(0 if track is None else len(track.history), len(items)):
                states, fresh = self.step(index, items, states, fresh)
                if track is not None:
                    track.history.append(states)
                    track.fresh.append(fresh)
                if index % REST_EVERY == REST_EVERY - 1:
                    self._rest(states, track)
                yield states
        finally:
            if track is not None:
                track.keep(self.tree)

    def attend(self, items: Sequence[Item]) -> None:
        """Make these the items that are looked ahead at."""
        self.ahead = Ahead(self.actor, items, self.width.ahead, self.width.leave)

    def first(self) -> State:
        """The hypothesis before anything was said: a new chapter at the usual start."""
        root = self.tree.add_root(chess.Board())
        return State(1 << root, root, (root,), main=1 << root)

    def step(
        self, index: int, items: Sequence[Item], states: Sequence[State], fresh: int | None
    ) -> tuple[list[State], int | None]:
        """The hypotheses after one more item, and the phrases since a dictated position."""
        self.between(index)
        item = items[index]
        if isinstance(item, Dictation):
            return self.restart(best_of(states), item, _ROOT_COST[noise_from(index, items)]), 0
        self.actor.forget_before(index)
        states = self.extend(index, item, states, fresh)
        return (states, None) if fresh is None else (self.prune_roots(states, fresh + 1), fresh + 1)

    def _rest(self, states: Sequence[State], track: Track | None) -> None:
        if track is not None:
            track.keep(self.tree)
        live = 0
        for state in states:
            live |= state.mask
        self.actor.forget_all()
        self.ahead.forget()
        self.tree.rest(live)

    def restart(self, best: State, dictation: Dictation, weight: float) -> list[State]:
        """One hypothesis per possible start position, all on top of the best of what came before."""
        out = []
        for scored in dictation.positions[: self.width.roots[0]]:
            root = self.tree.add_root(chess.Board(scored.fen))
            cost = weight * scored.cost
            action = Action("chapter", root, (), 0, (), -cost)
            out.append(start(best, root, best.score - cost, action))
        if not out:
            out = [replace(best, back=best, action=Action("none", -1, (), 0, (), 0.0))]
        return out

    def extend(self, index: int, phrase: Phrase, states: Sequence[State], fresh: int | None) -> list[State]:
        """All hypotheses after one more phrase, the best kept."""
        options: list[tuple[float, int, int, State, Action]] = []
        for rank, state in enumerate(states):
            self.between(index)
            for number, action in enumerate(self.actor.actions(index, phrase, state)):
                options.append((-(state.score + action.score), rank, number, state, action))
        many = fresh is not None and fresh < len(self.width.roots)
        width = self.width.states * (8 if many else 1)
        best = heapq.nsmallest(width * (2 if many else self.width.reach), options, key=lambda o: o[:3])
        return self.prune([self.apply(state, phrase, action) for _, _, _, state, action in best], width, index + 1)

    def apply(self, state: State, phrase: Phrase, action: Action) -> State:
        """The hypothesis after an action."""
        score = state.score + action.score
        at = action.parent if action.moves else action.target
        place = (self.tree.depth[at], self.tree.uci[at]) if at >= 0 else ()
        sign = (action.kind, *place, *[c.uci for c in action.moves])
        recent = (*state.recent[1 - self.width.memory :], sign)
        if action.kind == "none":
            carry, number = carried(state, phrase)
            habits = habits_after(state.habits, phrase, False, False, False)
            return replace(
                state, score=score, back=state, action=action, carry=carry, number=number, last="n", recent=recent,
                habits=habits,
            )  # fmt: skip
        if action.kind == "return":
            lines = tuple(n for n in state.lines if n in self.tree.path(action.target))
            tips = left_tips(state, self.tree, action.target, action.target)
            return replace(
                state, cursor=action.target, lines=lines, tips=tips, score=score, back=state, action=action,
                carry=frozenset(), number=0, last="r", recent=recent,
            )  # fmt: skip
        mask, nodes, node = state.mask, state.nodes, action.parent
        lines, tips, main = state.lines, state.tips, state.main
        for step, named in enumerate(action.moves):
            choice = self.tree.position[node].choice(named.move)
            child = self.tree.child(node, choice)
            known = bool(mask >> child & 1)
            if step == 0:
                lines, tips = moved(state, self.tree, node, child, known)
            if not known:
                if main >> node & 1 and not self.tree.brood[node] & main:
                    main |= 1 << child
                mask |= 1 << child
                nodes = (*nodes, child) if len(nodes) < MOST_NODES else (nodes[0], *nodes[-KEPT_NODES:], child)
            node = child
        white = bool(self.tree.position[action.parent].board.turn)
        persons = remember_person(state, phrase, white) if len(action.moves) == 1 else state.persons
        filled = action.named < len(action.moves)
        return State(
            mask, node, nodes, lines, tips, persons, score, state, action, main=main, last="f" if filled else "p",
            recent=recent, habits=habits_after(state.habits, phrase, True, filled, action.parent != state.cursor),
        )  # fmt: skip

    def prune(self, states: Sequence[State], width: int, following: int) -> list[State]:
        """Merge equal hypotheses, keep the best few per cursor and overall; `following` is the next phrase's number."""
        merged: dict[tuple[object, ...], State] = {}
        for state in states:
            key = (state.mask, state.cursor, state.tips[-1:], state.carry, state.last)
            old = merged.get(key)
            if old is None or state.score > old.score:
                merged[key] = state
        ranked = sorted(merged.values(), key=lambda s: -s.score)
        if len(ranked) > 2 * width:  # what lies farther below could not be promised enough to be kept
            least = ranked[2 * width].score - self.width.leave
            ranked = [s for s in ranked if s.score >= least]
        hopes = self.ahead.hopes(following, list({s.cursor for s in ranked}))
        ranked.sort(key=lambda s: -s.score - hopes[s.cursor])
        out: list[State] = []
        counts: dict[int, int] = {}
        alike: dict[object, int] = {}
        spare = self.width.spare
        for state in ranked:
            reading = (self.tree.root[state.cursor], state.recent)  # other dictated squares are another reading
            n, m = counts.get(state.cursor, 0), alike.get(reading, 0)
            more = m >= self.width.alike
            if n < self.width.per_cursor and spare >= more:
                spare -= more
                counts[state.cursor], alike[reading] = n + 1, m + 1
                out.append(state)
                if len(out) >= width:
                    break
        return out

    def prune_roots(self, states: list[State], fresh: int) -> list[State]:
        """After a dictated position: fewer and fewer start positions stay in the race."""
        allowed = self.width.roots[min(fresh, len(self.width.roots)) - 1]
        counts: dict[int, int] = {}
        out = []
        for state in states:
            root = self.tree.root[state.cursor]
            if root not in counts and len(counts) >= allowed:
                continue
            counts[root] = counts.get(root, 0) + 1
            if allowed > 1 and counts[root] > max(self.width.per_root, self.width.states // allowed):
                continue
            out.append(state)
        return out


def noise_from(index: int, items: Sequence[Item]) -> int:
    """How badly the first phrase from an item on was heard."""
    return next((i.noise for i in items[index:] if isinstance(i, Phrase)), 0)


def start(best: State, root: int, score: float, action: Action) -> State:
    """The hypothesis that a chapter starts at `root` after `best`."""
    return State(
        best.mask | 1 << root, root, (root,), persons=best.persons, score=score, back=best, action=action,
        main=1 << root, habits=best.habits,
    )  # fmt: skip


def best_of(states: Sequence[State]) -> State:
    """The likeliest hypothesis so far; the first of several."""
    return max(states, key=lambda s: s.score)


_Votes = list[tuple[float, State | None]]
"""Hypotheses by weight, each as it was some items before."""


def _votes(states: Sequence[State], items: int) -> _Votes:
    """The hypotheses as they were so many items before."""
    top = best_of(states).score
    out: _Votes = []
    for state in states:
        ancestor: State | None = state
        for _ in range(items):
            ancestor = ancestor.back if ancestor is not None else None
        out.append((math.exp(state.score - top), ancestor))
    return out


def _agreement(best: State, votes: Sequence[_Votes]) -> list[float]:
    """For each item, the share of the later beam's probability that agrees with the final reading of it."""
    states: list[State] = []
    state = best
    while state.back is not None:
        states.append(state)
        state = state.back
    out = []
    for chosen, here in zip(reversed(states), votes, strict=True):
        total = agree = 0.0
        for weight, ancestor in here:
            total += weight
            if ancestor is not None and _same(ancestor, chosen):
                agree += weight
        out.append(agree / total if total else 0.0)
    return out


def _same(a: State, b: State) -> bool:
    return a is b or (a.cursor == b.cursor and a.mask == b.mask)
