"""Examples of what is played whether said or not: every move of a talk beside all that could have been played."""

from __future__ import annotations

import chess

from lesson.decode.position import Tree
from lesson.decode.unsaid import unsaid_features
from lesson.learn.forced import Example
from lesson.learn.marked import Marked


def moves_told(marked: Marked) -> list[Example]:
    """One example for every move that stands in the true tree."""
    tree = Tree()
    root = tree.add_root(chess.Board())
    seen: set[int] = set()
    out = []
    for mark in marked.marks:
        if mark.act == "chapter":
            root = tree.add_root(chess.Board(mark.fen))
        node = root
        for uci in mark.path if mark.act == "play" else ():
            position, parent = tree.position[node], node
            node = tree.child(node, position.by_uci[uci])
            if node not in seen:
                seen.add(node)
                features = tuple(unsaid_features(tree, parent, choice) for choice in position.choices)
                out.append(Example(features, (next(k for k, c in enumerate(position.choices) if c.uci == uci),)))
    return out
