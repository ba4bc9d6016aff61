"""The teacher's own analysis: the moves prepared, and how the talk that was told compares with them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import chess
import chess.pgn

from lesson.errors import DataError, UsageError
from lesson.model import Decoded, Finding, Talk
from lesson.openings import Key, position_key
from lesson.tree import Tree

Moves = Mapping[Key, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Prepared:
    """The analysis of a PGN file. `moves` are the moves (UCI) prepared in a position, by `openings.position_key`; a
    position where a line ends has none. `games` are its games, for the order of its lines."""

    path: Path
    games: tuple[chess.pgn.Game, ...]
    moves: Moves


def read_prepared(path: Path) -> Prepared:
    """The analysis in a PGN file, with all its variations.

    Raises: UsageError if there is no such file, DataError if it holds no game or a move that cannot be played.
    """
    if not path.is_file():
        raise UsageError(f"{path}: there is no such file of analysis; leave --prepared out to do without")
    games: list[chess.pgn.Game] = []
    try:
        with path.open(encoding="utf-8-sig") as file:
            while (game := chess.pgn.read_game(file)) is not None:
                if game.errors:
                    raise DataError(f"{path}: game {len(games) + 1}: {_first_line(game.errors[0])}; mend the file")
                games.append(game)
    except (OSError, ValueError) as error:
        raise DataError(f"{path}: cannot be read as PGN ({_first_line(error)}); export it again") from error
    moves: dict[Key, set[str]] = {}
    for game in games:
        for node in _nodes(game):
            here = moves.setdefault(position_key(node.board()), set())
            here.update(child.move.uci() for child in _played(node))
    if not any(moves.values()):
        raise DataError(f"{path}: holds no moves; give the PGN file of the analysis")
    return Prepared(path, tuple(games), {key: frozenset(found) for key, found in moves.items()})


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
        for node in _nodes(game):
            if not isinstance(node, chess.pgn.ChildNode):
                continue
            before = node.parent.board()
            key, uci = position_key(before), node.move.uci()
            if key not in told or uci in told[key] or (key, uci) in once:
                continue
            once.add((key, uci))
            more = sum(1 for _ in _nodes(node)) - 1
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


def _nodes(game: chess.pgn.GameNode) -> Iterator[chess.pgn.GameNode]:
    waiting = [game]
    while waiting:
        node = waiting.pop()
        yield node
        waiting.extend(reversed(_played(node)))


def _played(node: chess.pgn.GameNode) -> list[chess.pgn.ChildNode]:
    """The moves prepared at a node. A null move ("--") is a way to write a threat down, not a move to be told."""
    return [child for child in node.variations if child.move]


def _numbered(board: chess.Board, san: str) -> str:
    return f"{board.fullmove_number}{'.' if board.turn else '...'} {san}"


def _count(moves: int) -> str:
    return f"{moves} move" if moves == 1 else f"{moves} moves"


def _first_line(error: object) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
