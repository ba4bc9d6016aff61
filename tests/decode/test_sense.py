"""What speaks for a move before anything is heard, on positions of our own."""

from __future__ import annotations

import chess

from lesson.decode.position import Choice, Position
from lesson.decode.sense import sense


def _named(fen: str, *line: str) -> set[str]:
    """The features of the last move of a line."""
    board = chess.Board(fen)
    choices: list[Choice] = []
    for san in line:
        move = board.parse_san(san)
        choices.append(Position(board.copy()).choice(move))
        board.push(move)
    before = choices[-2] if len(choices) > 1 else None
    own = choices[-3] if len(choices) > 2 else None
    features = sense(choices[-1], before, own, "is:")
    assert all(value == 1.0 for _, value in features)
    return {name.removeprefix("is:") for name, _ in features}


def test_men_are_brought_out_and_not_taken_home() -> None:
    assert _named(chess.STARTING_FEN, "Nf3") == {"develop"}
    assert _named(chess.STARTING_FEN, "Nf3", "e6", "Ng1") == {"same", "undo", "back"}
    assert _named(chess.STARTING_FEN, "e4") == {"two"}
    assert _named(chess.STARTING_FEN, "h3") == set()


def test_a_man_attacked_flees_and_a_pawn_kicks_men_and_meets_pawns() -> None:
    start = chess.STARTING_FEN
    assert "flees" in _named(start, "e4", "Nf6", "e5", "Nd5")
    assert _named(start, "e4", "Nf6", "e5") == {"kick", "same"}
    assert _named(start, "e4", "d5") == {"lever", "two"}
