"""Positions of the claim corpus, and its rows."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import chess

from lesson.judge.scene import Scene

CLAIMS = Path(__file__).with_name("claims.txt")
TRUTHS = {"t": "true", "f": "false", "u": "undecidable"}


@dataclass(frozen=True)
class Row:
    """A sentence, where it is said, and the claims (kind, truth) a careful reader finds in it."""

    scene: Scene
    expected: tuple[tuple[str, str], ...]
    text: str


def scene_of(told: str) -> Scene:
    """The scene after SAN moves from the initial position, or at a FEN."""
    if "/" in told:
        return Scene(chess.Board(told))
    board = chess.Board()
    for san in told.split():
        board.push_san(san)
    before = board.copy(stack=False)
    move = board.move_stack[-1] if board.move_stack else None
    line = tuple(m.uci() for m in board.move_stack)
    if move is not None:
        earlier = board.copy()
        earlier.pop()
        before = earlier.copy(stack=False)
    return Scene(board.copy(stack=False), before if move else None, move, line)


def rows(path: Path = CLAIMS) -> list[Row]:
    """The labelled sentences of a corpus file, in order."""
    scenes: dict[str, Scene] = {}
    out = []
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("@"):
            name, _, told = line[1:].partition(" ")
            scenes[name] = scene_of(told)
        elif line.strip() and not line.startswith("#"):
            where, expected, text = (part.strip() for part in line.split("|"))
            pairs = [tuple(item.split(":")) for item in expected.split() if item != "-"]
            out.append(Row(scenes[where], tuple((kind, TRUTHS[truth]) for kind, truth in pairs), text))
    return out
