"""The tree score, and how far the confidence of the moves can be trusted.

A node of a tree is (start position, path of moves from it); games with the same start position are one tree. Recall
counts the moves that were said, precision all moves written. A true move marked "unspoken" was put on the board
without a word, so nobody can know which quiet move it was: it matches any single written move, if at least one move
that truly follows it was written below that one. Moves "named" through an opening and unspoken ones do not count for
recall; written, they count for precision.

A written move is *wrong* when its node matches no true node; all moves below a wrong one are wrong too, so wrong moves
are also counted by their first on each path. A wrong move is *silent* when it is not flagged.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import chess

from lesson.model import Decoded, Event
from lesson.settings import FLAG_BELOW
from tests.accuracy.gold import games

Path = tuple[str, ...]
Key = tuple[str, Path]
"""A node: the start position (EPD) and the UCI moves from it."""

BINS = 10


@dataclass(slots=True)
class Branch:
    """A node of a merged tree; the root's path is empty. `how` is said, named or unspoken."""

    path: Path = ()
    how: str = "said"
    children: dict[str, Branch] = field(default_factory=dict)

    def child(self, uci: str, how: str = "said") -> Branch:
        return self.children.setdefault(uci, Branch((*self.path, uci), how))

    def below(self) -> Iterator[Branch]:
        for child in self.children.values():
            yield child
            yield from child.below()


Forest = dict[str, Branch]
"""Start position (EPD) -> the tree told from it."""


@dataclass(frozen=True, slots=True)
class TreeScore:
    """Counts of moves (nodes). `right` holds the written nodes that match a true one."""

    said: int
    said_hit: int
    unsaid: int
    unsaid_hit: int
    written: int
    right: frozenset[Key]

    @property
    def recall(self) -> float:
        return self.said_hit / max(1, self.said)

    @property
    def precision(self) -> float:
        return len(self.right) / max(1, self.written)

    @property
    def f1(self) -> float:
        total = self.recall + self.precision
        return 2 * self.recall * self.precision / total if total else 0.0


@dataclass(frozen=True, slots=True)
class TrustScore:
    """What a reader of the study can rely on, in moves (nodes of the merged tree) and phrases.

    `silent` counts wrong moves without a flag, `silent_first` those of them whose parent is right; `unresolved` the
    phrases left open; `trials` (confidence, right) of every written move.
    """

    written: int
    silent: int
    silent_first: int
    flagged: int
    unresolved: int
    trials: tuple[tuple[float, bool], ...]


def forest_of_pgn(pgn: str) -> Forest:
    """The merged trees of a PGN text; comments holding "unspoken" or "named" tell how a move was given."""
    forest: Forest = {}
    for game in games(pgn):
        stack = [(game.variations, forest.setdefault(game.board().epd(), Branch()))]
        while stack:
            variations, branch = stack.pop()
            for node in variations:
                how = next((how for how in ("unspoken", "named") if how in node.comment), "said")
                stack.append((node.variations, branch.child(node.move.uci(), how)))
    return forest


def keys_of(decoded: Decoded) -> list[Key]:
    """For each node of `decoded`, by id, its start position and path; the path of a chapter's start is empty."""
    keys: list[Key] = []
    for node in decoded.nodes:
        if node.parent < 0:
            keys.append((chess.Board(node.fen).epd(), ()))
        else:
            start, path = keys[node.parent]
            keys.append((start, (*path, node.uci)))
    return keys


def forest_of(decoded: Decoded) -> Forest:
    """The merged trees of the decoder's answer."""
    forest: Forest = {}
    for start, path in keys_of(decoded):
        branch = forest.setdefault(start, Branch())
        for uci in path:
            branch = branch.child(uci)
    return forest


def score_tree(gold: str, told: str | Decoded) -> TreeScore:
    """Score a told tree (PGN text or the decoder's answer) against the true tree (PGN text)."""
    truth = forest_of_pgn(gold)
    written = forest_of_pgn(told) if isinstance(told, str) else forest_of(told)
    pairs = [(start, *pair) for start, tree in truth.items() for pair in match(tree, written.get(start, Branch()))]
    hit = {(start, true.path) for start, true, _ in pairs}
    nodes = [(start, node) for start, tree in truth.items() for node in tree.below()]
    said = [(start, node.path) for start, node in nodes if node.how == "said"]
    unsaid = [(start, node.path) for start, node in nodes if node.how != "said"]
    return TreeScore(
        said=len(said),
        said_hit=sum(key in hit for key in said),
        unsaid=len(unsaid),
        unsaid_hit=sum(key in hit for key in unsaid),
        written=sum(1 for tree in written.values() for _ in tree.below()),
        right=frozenset((start, found.path) for start, _, found in pairs),
    )


def match(true: Branch, found: Branch) -> list[tuple[Branch, Branch]]:
    """Pairs (true node, written node) below two nodes that match: same move first, then unspoken true moves."""
    pairs: list[tuple[Branch, Branch]] = []
    for uci, child in true.children.items():
        if uci in found.children:
            pairs += [(child, found.children[uci]), *match(child, found.children[uci])]
    free = {uci: node for uci, node in found.children.items() if uci not in true.children}
    for uci, quiet in true.children.items():
        if quiet.how != "unspoken" or uci in found.children or not free:
            continue
        below = {other: match(quiet, node) for other, node in free.items()}
        best = max(below, key=lambda other: len(below[other]))
        if below[best]:
            pairs += [(quiet, free.pop(best)), *below[best]]
    return pairs


def score_trust(decoded: Decoded, tree: TreeScore) -> TrustScore:
    """How the confidence of the written moves fares against the truth, as judged by `score_tree(gold, decoded)`.

    A move told twice by the same path is one node and keeps the confidence of its first telling.
    """
    keys = keys_of(decoded)
    made = {event.node: event for event in reversed(decoded.events) if event.act == "play"}
    events: dict[Key, Event | None] = {}
    for node in decoded.nodes:
        if node.parent >= 0:
            events.setdefault(keys[node.id], made.get(node.id))
    silent = first = flagged = 0
    trials: list[tuple[float, bool]] = []
    for (start, path), event in events.items():
        confidence = event.confidence if event else 1.0
        right = (start, path) in tree.right
        trials.append((confidence, right))
        flagged += confidence < FLAG_BELOW
        if not right and confidence >= FLAG_BELOW:
            silent += 1
            first += len(path) == 1 or (start, path[:-1]) in tree.right
    return TrustScore(len(events), silent, first, flagged, sum(map(is_open, decoded.events)), tuple(trials))


def is_open(event: Event) -> bool:
    """Whether an event is a phrase left open: no move was written for it and it says why, or it only points."""
    return event.act == "point" or (event.act != "play" and bool(event.reason))


def calibration_error(trials: Iterable[tuple[float, bool]]) -> float:
    """Expected calibration error over ten equal bins: the mean of |share right - mean confidence|, weighted by bin size
    (Guo, Pleiss, Sun, Weinberger, "On Calibration of Modern Neural Networks", ICML 2017). 0 for no trials."""
    bins: list[list[tuple[float, bool]]] = [[] for _ in range(BINS)]
    for confidence, right in trials:
        bins[min(BINS - 1, int(confidence * BINS))].append((confidence, right))
    total = sum(len(b) for b in bins)
    return sum(abs(sum(right for _, right in b) - sum(c for c, _ in b)) for b in bins) / max(1, total)


def per_hundred(count: int, moves: int) -> float:
    """`count` per 100 moves written."""
    return 100 * count / max(1, moves)


def mean(values: Sequence[float]) -> float:
    """The mean, 0 for none."""
    return sum(values) / max(1, len(values))
