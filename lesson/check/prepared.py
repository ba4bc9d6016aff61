"""The talk that was told beside the teacher's own analysis, as notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import chess
import chess.pgn

from lesson.model import Decoded, Finding, Talk
from lesson.openings import Key, position_key
from lesson.read.prepared import Prepared, nodes
from lesson.tree import Tree


def compared(prepared: Prepared, decoded: Decoded, talk: Talk) -> list[Finding]:
    """What was prepared and not told, and what was told beyond it, as notes; of what follows such a move only the
    number of moves is given. A line the talk never came near is told of where it leaves what was told."""
    boards = {node.id: chess.Board(node.fen) for node in decoded.nodes}
    told: dict[Key, set[str]] = {}
    for node in decoded.nodes:
        told.setdefault(position_key(boards[node.id]), set())
        if node.parent >= 0:
            told[position_key(boards[node.parent])].add(node.uci)
    return [*_untold(prepared, told), *_beyond(prepared, decoded, talk, boards)]


def _untold(prepared: Prepared, told: Mapping[Key, set[str]]) -> Iterator[Finding]:
    once: set[tuple[Key, str]] = set()
    for game in prepared.games:
        for node in nodes(game):
            if not isinstance(node, chess.pgn.ChildNode):
                continue
            before = node.parent.board()
            key, uci = position_key(before), node.move.uci()
            if key not in told or uci in told[key] or (key, uci) in once:
                continue
            once.add((key, uci))
            more = sum(1 for _ in nodes(node)) - 1
            after = f" and {_count(more)} after it" if more else ""
            yield Finding(
                kind="unsaid",
                severity="note",
                message=f"prepared and not told: {_numbered(before, node.san())}{after}",
                fen=before.fen(),
            )


def _beyond(prepared: Prepared, decoded: Decoded, talk: Talk, boards: Mapping[int, chess.Board]) -> Iterator[Finding]:
    tree = Tree(decoded)
    first = {event.node: event for event in reversed(decoded.events) if event.act == "play"}
    for start in tree.starts:
        for node_id in tree.below(start.id):
            node = decoded.nodes[node_id]
            before = boards[node.parent]
            here = prepared.moves.get(position_key(before))
            if here is None or node.uci in here:
                continue
            more = sum(1 for _ in tree.below(node_id))
            after = f" and {_count(more)} after it" if more else ""
            where = "told where the preparation ends" if not here else "told beside what was prepared"
            event = first.get(node_id)
            said = talk.words[event.first : event.first + 1] if event is not None else ()
            yield Finding(
                kind="beyond",
                severity="note",
                message=f"{where}: {_numbered(before, node.san)}{after}",
                words=(event.first, event.last) if event is not None else None,
                start_ms=said[0].start_ms if said else None,
                fen=before.fen(),
            )


def _numbered(board: chess.Board, san: str) -> str:
    return f"{board.fullmove_number}{'.' if board.turn else '...'} {san}"


def _count(moves: int) -> str:
    return f"{moves} move" if moves == 1 else f"{moves} moves"
