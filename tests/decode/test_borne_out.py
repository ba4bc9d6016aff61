"""What is said of a move speaks for the one it is true of."""

from __future__ import annotations

import chess
import pytest

from lesson.decode.borne_out import claim_features
from lesson.decode.position import Tree
from lesson.hear.claims import find_claims
from lesson.hear.phrase import Phrase

# A knight on d5 may go to c7, where it attacks a8 and e8, or to e7, where it attacks neither: geometry of the board.
FORK = chess.Board("r3k3/8/8/3N4/8/8/8/4K3 w q - 0 1")


def _features(board: chess.Board, uci: str, words: str) -> dict[str, float]:
    tree = Tree()
    position = tree.position[tree.add_root(board)]
    phrase = Phrase(0, 1, "square", claims=tuple(find_claims(words.split())))
    assert phrase.claims
    return dict(claim_features(phrase, position.by_uci[uci]))


@pytest.mark.parametrize(
    ("uci", "words", "sign"),
    [
        ("d5c7", "forking king and rook.", "+"),
        ("d5e7", "forking king and rook.", "-"),
        ("d5c7", "the rook is attacked.", "+"),
        ("d5f4", "the rook is attacked.", "-"),
    ],
)
def test_the_board_is_asked(uci: str, words: str, sign: str) -> None:
    other = {"+": "-", "-": "+"}[sign]
    found = _features(FORK, uci, words)
    assert f"claim{sign}" in found
    assert f"claim{other}" not in found
