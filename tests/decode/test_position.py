"""The tree all hypotheses share: what nobody holds is given up, and what somebody holds is untouched by it."""

from __future__ import annotations

import chess
from hypothesis import given
from hypothesis import strategies as st

from lesson.decode.position import Tree


def grow(tree: Tree, node: int, picks: list[int]) -> list[int]:
    """The nodes after one legal move after the other, chosen by number."""
    out = []
    for pick in picks:
        choices = tree.position[node].choices
        if not choices:
            break
        node = tree.child(node, choices[pick % len(choices)])
        out.append(node)
    return out


lines = st.lists(st.lists(st.integers(0, 40), min_size=1, max_size=6), min_size=1, max_size=6)


@given(lines, st.sets(st.integers(0, 5)), lines)
def test_numbers_are_used_again_and_lines_held_stay_as_they_are(
    grown: list[list[int]], held: set[int], after: list[list[int]]
) -> None:
    tree = Tree()
    root = tree.add_root(chess.Board())
    told = [grow(tree, root, picks) for picks in grown]
    live, kept = 1 << root, {root}
    for number in held:
        for node in told[number] if number < len(told) else ():
            live |= 1 << node
            kept.add(node)
    before = {node: (tree.path(node), tree.position[node].board.fen()) for node in kept}
    size = len(tree.parent)
    tree.rest(live)
    assert all(child in kept for node in kept for child in tree.children[node].values())
    fresh = [node for picks in after for node in grow(tree, root, picks)]
    assert len(tree.parent) <= max(size, len(kept | set(fresh)))
    for node, (path, fen) in before.items():
        assert (tree.path(node), tree.position[node].board.fen()) == (path, fen)
    for node in set(fresh) - kept:
        up = tree.parent[node]
        board = tree.position[up].board.copy()
        board.push_uci(tree.uci[node])
        assert tree.position[node].board.fen() == board.fen()
        assert tree.path(node) == (*tree.path(up), node)
        assert tree.depth[node] == tree.depth[up] + 1
