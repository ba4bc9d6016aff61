"""What a chess engine can contradict: who is said to stand better, and moves that are advised or praised."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import chess

from lesson.check.advice import recommended, side_of
from lesson.check.engine import Engine, Evaluation
from lesson.check.said import surety, where
from lesson.hear.verdicts import Verdict
from lesson.model import Decoded
from lesson.nags import placed_verdicts
from lesson.settings import BLUNDER_CEILING_CP, BLUNDER_DROP_CP, BLUNDER_SCALE_CP, VERDICT_BOUNDS
from lesson.tree import Tree

_PRAISE = ("good", "brilliant")


@dataclass(frozen=True, slots=True)
class Remark:
    """Words [first, last) that an engine can judge: a `verdict` on the position `fen`, or advice to play `uci` there.

    `node` is the position told last before the words are judged; `sure` is the confidence (0..1) that it is meant.
    """

    first: int
    last: int
    node: int
    sure: float
    fen: str
    verdict: Verdict | None = None
    uci: str = ""

    @property
    def after(self) -> str:
        """The position after the advised move."""
        board = chess.Board(self.fen)
        board.push_uci(self.uci)
        return board.fen()

    @property
    def fens(self) -> tuple[str, ...]:
        """The positions an engine must be asked about."""
        return (self.fen, self.after) if self.uci else (self.fen,)


@dataclass(frozen=True, slots=True)
class Doubt:
    """What the engine says against a remark; or, as kind "engine", that it says no more from that remark on."""

    kind: Literal["verdict", "blunder", "engine"]
    message: str
    remark: Remark


def remarks(words: Sequence[str], decoded: Decoded) -> list[Remark]:
    """What was said that an engine can judge, in the order said; a verdict or a piece of advice given twice is one."""
    sure = surety(decoded)
    found: dict[tuple[str, str], Remark] = {}
    for event, board in recommended(words, decoded):
        at = event.node if event.act == "mention" else decoded.nodes[event.node].parent
        if board.is_legal(chess.Move.from_uci(event.uci)):
            sureness = min(sure[at], event.confidence)
            advice = Remark(event.first, event.last, at, sureness, board.fen(), uci=event.uci)
            found.setdefault((board.fen(), event.uci), advice)
    side = side_of(words)
    for verdict, place in placed_verdicts(words, decoded.events, Tree(decoded)):
        node = decoded.nodes[place.node]
        here = Remark(verdict.first, verdict.last, node.id, sure[node.id], node.fen, verdict)
        if verdict.kind in VERDICT_BOUNDS:
            found.setdefault((node.fen, verdict.kind + verdict.side), here)
        elif verdict.kind in _PRAISE:
            before = decoded.nodes[node.parent]
            if side is None or chess.Board(before.fen).turn == side:
                praise = Remark(verdict.first, verdict.last, before.id, sure[node.id], before.fen, uci=node.uci)
                found.setdefault((before.fen, node.uci), praise)
    return sorted(found.values(), key=lambda remark: (remark.first, remark.last))


def doubts(words: Sequence[str], decoded: Decoded, engine: Engine, wanted: Callable[[Remark], bool]) -> Iterator[Doubt]:
    """What the engine contradicts of the remarks that are `wanted`; at most one doubt says that the engine failed."""
    asked = [remark for remark in remarks(words, decoded) if wanted(remark)]
    known = engine.ask([fen for remark in asked for fen in remark.fens])
    failed = False
    for remark in asked:
        if all(fen in known for fen in remark.fens):
            quoted = '"' + " ".join(words[remark.first : remark.last]).strip(".,;:!?") + '"'
            judge = _of_advice if remark.uci else _of_verdict
            if message := judge(remark, known, where(decoded, remark.node)):
                nodes = f"{engine.nodes:,}".replace(",", " ")
                kind: Literal["verdict", "blunder"] = "blunder" if remark.uci else "verdict"
                yield Doubt(kind, f"{quoted} {message} ({engine.name}, {nodes} nodes)", remark)
        elif not failed:
            failed = True
            rest = sum(any(fen not in known for fen in other.fens) for other in asked)
            message = f"the engine {engine.name} is not asked any more: {engine.trouble}; "
            yield Doubt("engine", f"{message}{rest} of {len(asked)} remarks are not compared with it", remark)


def _of_verdict(remark: Remark, known: dict[str, Evaluation], place: str) -> str:
    """Why the words do not fit the evaluation, "" where they may."""
    assert remark.verdict is not None
    found = known[remark.fen]
    least, most = VERDICT_BOUNDS[remark.verdict.kind]
    value = found.for_side(remark.verdict.side != "b")
    if (least is None or value >= least) and (most is None or value <= most):
        return ""
    return f"does not fit the evaluation {place}, {found}"


def _of_advice(remark: Remark, known: dict[str, Evaluation], place: str) -> str:
    """Why the move is no advice, "" where it may be."""
    board = chess.Board(remark.fen)
    best, after = known[remark.fen], known[remark.after]
    kept, left = (max(-BLUNDER_SCALE_CP, min(BLUNDER_SCALE_CP, found.for_side(board.turn))) for found in (best, after))
    if kept - left < BLUNDER_DROP_CP or left > BLUNDER_CEILING_CP or best.best in ("", remark.uci):
        return ""
    san, better = (board.san(chess.Move.from_uci(uci)) for uci in (remark.uci, best.best))
    return f"speaks for {san} {place}, which leads to {after}; {better} keeps {best}"
