"""The teacher's own analysis, a PGN file with its variations: the moves prepared in every position."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import chess.pgn

from lesson.errors import ReadError
from lesson.openings import Key, position_key
from lesson.read.draft import Flaws
from lesson.read.source import decode, load


@dataclass(frozen=True, slots=True)
class Prepared:
    """An analysis. `moves` are the moves (UCI) prepared in a position, by `openings.position_key`; a position where a
    line ends has none. `games` are its games, for the order of its lines."""

    games: tuple[chess.pgn.Game, ...]
    moves: Mapping[Key, frozenset[str]]


class _Builder(chess.pgn.GameBuilder[chess.pgn.Game]):
    def handle_error(self, error: Exception) -> None:
        """Kept with the game; the library would also print it."""
        self.game.errors.append(error)


def read_prepared(path: Path) -> Prepared:
    """The analysis in a PGN file.

    Raises: ReadError if it cannot be read as text, holds no move, or one that cannot be played.
    """
    try:
        file = io.StringIO(decode(load(path), Flaws()))
    except ReadError as error:
        reason = str(error).removeprefix(f"{path}: ").partition(";")[0]
        raise ReadError(f"{path}: {reason}; --prepared takes your analysis as a PGN file") from None
    games: list[chess.pgn.Game] = []
    while (game := chess.pgn.read_game(file, Visitor=_Builder)) is not None:
        if game.errors:
            reason = str(game.errors[0]).partition("\n")[0]
            raise ReadError(f"{path}: game {len(games) + 1}: {reason}; mend the file")
        games.append(game)
    moves: dict[Key, set[str]] = {}
    for game in games:
        for node in nodes(game):
            moves.setdefault(position_key(node.board()), set()).update(child.move.uci() for child in _played(node))
    if not any(moves.values()):
        raise ReadError(f"{path}: holds no moves; --prepared takes your analysis as a PGN file")
    return Prepared(tuple(games), {key: frozenset(found) for key, found in moves.items()})


def nodes(game: chess.pgn.GameNode) -> Iterator[chess.pgn.GameNode]:
    """A position and all after it that can be told, the main line first."""
    waiting = [game]
    while waiting:
        node = waiting.pop()
        yield node
        waiting.extend(reversed(_played(node)))


def _played(node: chess.pgn.GameNode) -> list[chess.pgn.ChildNode]:
    """The moves prepared at a node. A null move ("--") is a way to write a threat down, not a move to be told."""
    return [child for child in node.variations if child.move]
