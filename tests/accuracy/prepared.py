"""An analysis such as a teacher might have prepared: the true tree of a talk, and as many moves again nobody tells."""

from __future__ import annotations

import random

import chess
import chess.pgn

from lesson.openings import Key, position_key
from tests.accuracy.gold import GoldTalk, games


def analysis_of(gold: GoldTalk) -> dict[Key, frozenset[str]]:
    """The moves of the analysis by position; drawn by chance with the talk's name as the seed, so always the same."""
    moves: dict[Key, set[str]] = {}
    boards: list[chess.Board] = []
    told = 0
    for game in games(gold.pgn):
        waiting: list[chess.pgn.GameNode] = [game]
        while waiting:
            node = waiting.pop()
            board = node.board()
            boards.append(board)
            told += len(node.variations)
            moves.setdefault(position_key(board), set()).update(child.move.uci() for child in node.variations)
            waiting += node.variations
    chance = random.Random(gold.name)
    added = 0
    while added < told:
        board = chance.choice(boards)
        known = moves.setdefault(position_key(board), set())
        others = sorted(move.uci() for move in board.legal_moves if move.uci() not in known)
        if others:
            move = chance.choice(others)
            known.add(move)
            after = board.copy(stack=False)
            after.push_uci(move)
            boards.append(after)
            added += 1
    return {key: frozenset(found) for key, found in moves.items() if found}
