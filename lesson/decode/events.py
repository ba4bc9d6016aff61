"""The best hypothesis -> the decoder's answer in the project's own nouns."""

from __future__ import annotations

import math
from collections.abc import Sequence

import chess

from lesson.decode.actions import Action, Actor
from lesson.decode.beam import Item
from lesson.decode.confidence import line_confidence
from lesson.decode.fitting import Fitted
from lesson.decode.recall import Memory, Recall
from lesson.decode.thread import State
from lesson.hear.phrases import Phrase
from lesson.model import Decoded, Event, Node, Rival
from lesson.openings import name_of
from lesson.settings import WRITE_ABOVE

MOST_RIVALS = 4
_LOST = "it is not sure where this line belongs; its moves stay in the text"
UNSPOKEN_CONFIDENCE = 0.5  # nobody said the move: it is always put before the teacher


def to_decoded(
    items: Sequence[Item],
    actor: Actor,
    best: State,
    confidences: Sequence[float],
    trust: dict[str, float],
    memory: Memory | None = None,
) -> Decoded:
    """Nodes and events of the best hypothesis, in the order told; `confidences` are those of the steps, `trust` makes
    those of lines of them. A line less sure than settings.WRITE_ABOVE is not written: its words stay talk, with one
    question where it begins. `memory` is of earlier readings of the talk."""
    steps: list[tuple[State, Action]] = []
    state: State | None = best
    while state is not None and state.back is not None:
        assert isinstance(state.action, Action)
        steps.append((state, state.action))
        state = state.back
    steps.reverse()
    told = [after.cursor for (after, _), item in zip(steps, items, strict=True) if _is_fact(item)]
    known = frozenset(node for cursor in told for node in actor.tree.path(cursor))
    writer = _Writer(actor, trust, known, Recall(actor.tree, memory or Memory()))
    writer.chapter(state.cursor if state is not None else 0, 1.0)
    for index, ((after, action), item, confidence) in enumerate(zip(steps, items, confidences, strict=True)):
        writer.add(index, after, action, item, confidence)
    return writer.done()


class _Writer:
    """Collects nodes and events; `cursor` is the search's node, `ids` maps search nodes to written ones; `lost` are
    search nodes too unsure to be written; `known` those that a fact stands behind."""

    def __init__(self, actor: Actor, trust: dict[str, float], known: frozenset[int], recall: Recall) -> None:
        self.actor, self.tree, self.trust, self.known, self.recall = actor, actor.tree, trust, known, recall
        self.nodes: list[Node] = []
        self.ids: dict[int, int] = {}
        self.events: list[Event] = []
        self.roots: list[int] = []
        self.cursor = -1
        self.range = (0, 0)
        self.steps: dict[int, tuple[float, ...]] = {}  # of a search node: the confidences of the steps of its line
        self.sure: dict[int, float] = {}  # the confidence in a search node
        self.lost: set[int] = set()

    def chapter(self, root: int, confidence: float) -> None:
        """Starts a chapter, or moves the one before to the new start if nothing was played in it."""
        fen = self.tree.position[root].board.fen()
        if self.roots and self.nodes[-1].parent < 0:
            at = self.nodes[-1].id
            self.nodes[-1] = Node(at, self.nodes[-1].chapter, -1, "", "", fen)
        else:
            at = len(self.nodes)
            self.roots.append(at)
            self.nodes.append(Node(at, len(self.roots) - 1, -1, "", "", fen))
        self.ids[root] = at
        self.steps[root] = (confidence,)
        self.cursor = root

    def node(self, node: int) -> int:
        """The written node of a search node, written with its ancestors if it is new."""
        known = self.ids.get(node)
        if known is None:
            parent = self.node(self.tree.parent[node])
            choice = self.tree.choice[node]
            assert choice is not None
            known = self.ids[node] = len(self.nodes)
            san, fen = self.recall.written(node)
            self.nodes.append(Node(known, len(self.roots) - 1, parent, choice.uci, san, fen))
        return known

    def add(self, index: int, after: State, action: Action, item: Item, confidence: float) -> None:
        """One item of the talk."""
        first, last = self._own_words(item)
        if action.kind == "chapter":
            self.chapter(action.parent, confidence)
            self.events.append(Event("chapter", first, last, self.ids[action.parent], confidence=confidence))
            return
        if not isinstance(item, Phrase):
            return
        if action.kind == "none" or action.target in self.lost:
            self._nothing(index, item, after.cursor, first, last, confidence)
        elif action.kind == "return":
            target = self.node(action.target)
            self.events.append(Event("return", first, last, target, confidence=confidence, lead=min(item.lead, first)))
            self.cursor = after.cursor
        elif self._to_write(action, item, confidence):
            self._play(index, action, item, first, last, confidence)
            self.cursor = after.cursor
        else:
            self._lose(index, action, item, first, last, confidence)

    def _own_words(self, item: Item) -> tuple[int, int]:
        """The item's words, less those an item before it already has; all shared words mean the same range."""
        first, last = item.first, item.last
        if first < self.range[1]:
            if last <= self.range[1]:
                return self.range
            first = self.range[1]
        self.range = (first, last)
        return first, last

    def _nothing(self, index: int, item: Phrase, cursor: int, first: int, last: int, confidence: float) -> None:
        """A phrase that moved nothing: a mention, or a question where it names a move that cannot be played here."""
        if item.kind not in ("square", "castle", "take") or item.form in ("soft", "rank", "digits", "word"):
            return
        at, lead = self.ids[self.cursor], min(item.lead, first)
        if cursor in self.lost:
            self.events.append(Event("mention", first, last, at, confidence=confidence, lead=lead))
            return
        here = self._named(index, item)
        if here is None and item.piece and item.kind == "square":
            reason = "these words name a move, but no legal move of this position fits them"
            event = Event("talk", first, last, at, confidence=confidence, reason=reason, lead=lead)
        elif here is not None:
            event = Event("mention", first, last, at, *here, confidence=confidence, lead=lead)
        else:
            event = Event("mention", first, last, at, confidence=confidence, lead=lead)
        self.events.append(event)

    def _named(self, index: int, item: Phrase) -> tuple[str, str] | None:
        """The move (UCI, SAN) that the words name best where the talk stands, if nothing is against it; "" where a
        square was heard well to which none goes: nobody played the move, so nothing shows that another was meant."""

        def ask() -> tuple[str, str] | None:
            choice = next((fit.choice for fit in self.actor.clean(index, item, self.cursor)), None)
            exact = self.actor.fitting.heard(index, item).exact
            if choice is None:
                return None
            return ("", "") if exact and not exact >> choice.target & 1 else (choice.uci, choice.board.san(choice.move))

        return self.recall.once(item, self.cursor, "named", ask)

    def _rivals(self, index: int, item: Phrase, node: int, chosen: str) -> tuple[Rival, ...]:
        """The other readings of a phrase as a move at a node."""
        return self.recall.once(
            item, node, f"not {chosen}", lambda: rival_readings(self.actor.fits(index, item, node), chosen)
        )

    def _line(self, action: Action, item: Phrase, confidence: float) -> tuple[tuple[float, ...], float]:
        """The steps of the line that the action makes longer, and how sure it is: never surer than what it follows."""
        steps = (*self.steps.get(action.parent, ()), confidence)
        sure = line_confidence(steps, item.noise, self.trust)
        return steps, min(sure, self.sure.get(action.parent, 1.0))

    def _to_write(self, action: Action, item: Phrase, confidence: float) -> bool:
        """Whether moves are sure enough to be written, or written already, or stood for by a person."""
        if action.parent in self.lost:
            return False
        first = self.tree.children[action.parent].get(action.moves[0].uci, -1)
        if first in self.ids or first in self.known:
            return True
        return self._line(action, item, confidence)[1] >= WRITE_ABOVE

    def _lose(self, index: int, action: Action, item: Phrase, first: int, last: int, confidence: float) -> None:
        """Moves too unsure to be written: the first of a line is asked about, those after it are left in the text."""
        lead = min(item.lead, first)
        if action.parent in self.lost:
            at = self.ids[self.cursor]
            self.events.append(Event("mention", first, last, at, confidence=confidence, lead=lead))
        else:
            self.cursor = action.parent
            at, choice = self.node(action.parent), action.moves[0]
            fills = len(action.moves) > action.named
            rivals = () if fills else self._rivals(index, item, action.parent, choice.uci)
            uci, san = ("", "") if fills else (choice.uci, choice.board.san(choice.move))
            self.events.append(
                Event("talk", first, last, at, uci, san, confidence=confidence, rivals=rivals, reason=_LOST, lead=lead)
            )
        node = action.parent
        for named in action.moves:
            node = self.tree.child(node, self.tree.position[node].choice(named.move))
            self.lost.add(node)

    def _play(self, index: int, action: Action, item: Phrase, first: int, last: int, confidence: float) -> None:
        lead = min(item.lead, first)
        if action.parent != self.cursor:
            at = self.node(action.parent)
            self.events.append(Event("return", first, first, at, confidence=confidence, lead=lead))
        node = action.parent
        steps, sure = self._line(action, item, confidence)
        fills = len(action.moves) - action.named
        rivals = self._rivals(index, item, node, action.moves[0].uci) if not fills else ()
        for number, named in enumerate(action.moves):
            choice = self.tree.position[node].choice(named.move)
            node = self.tree.child(node, choice)
            known = node in self.ids
            self.lost.discard(node)
            here = self.node(node)
            unspoken = number < fills
            steps = self.steps.setdefault(node, steps)
            sure = self.sure.setdefault(node, sure)
            self.events.append(
                Event(
                    "retell" if known else "play",
                    first,
                    first if unspoken else last,
                    here,
                    choice.uci,
                    self.nodes[here].san,
                    "inferred" if unspoken else "named" if item.kind == "name" else "said",
                    min(sure, UNSPOKEN_CONFIDENCE) if unspoken else sure,
                    rivals,
                    lead=lead,
                    step=min(confidence, UNSPOKEN_CONFIDENCE) if unspoken else confidence,
                )
            )

    def done(self) -> Decoded:
        """Everything written, with a title for every chapter."""
        return Decoded(tuple(self.nodes), tuple(self.events), {}, tuple(self._title(n) for n in range(len(self.roots))))

    def _title(self, number: int) -> str:
        root = self.nodes[self.roots[number]]
        if root.fen == chess.STARTING_FEN:
            line: list[str] = []
            at = root.id
            while (following := next((n for n in self.nodes if n.parent == at), None)) is not None:
                line.append(following.uci)
                at = following.id
            name = name_of(line) if line else None
            return name or f"Chapter {number + 1}"
        return f"Position {number + 1}"


def _is_fact(item: Item) -> bool:
    return isinstance(item, Phrase) and item.kind == "known"


def rival_readings(fits: Sequence[Fitted], chosen: str) -> tuple[Rival, ...]:
    """The other moves the phrase could name at the same position, with their shares of the fit."""
    if not fits:
        return ()
    top = fits[0].score
    weights = [math.exp(max(-30.0, f.score - top)) for f in fits]
    total = sum(weights)
    out = []
    for fit, weight in zip(fits, weights, strict=True):
        if fit.choice.uci != chosen and weight / total >= 0.01:
            board = fit.choice.board
            out.append(Rival(fit.choice.uci, board.san(fit.choice.move), round(weight / total, 4)))
    return tuple(out[:MOST_RIVALS])
