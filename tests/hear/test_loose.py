"""Moves told without a square, and men named by the side of the board they began on."""

from __future__ import annotations

import chess
import pytest

from lesson.decode.fit import candidates, fit_features
from lesson.decode.position import Choice, Position
from lesson.hear.grammar import load_grammar
from lesson.hear.phrases import Phrase, find_phrases
from lesson.hear.sounds import FILES, load_sounds
from lesson.hear.tokens import tokenise


def phrases(text: str) -> list[Phrase]:
    return find_phrases(tokenise(text.split()), load_grammar(), load_sounds())


def moves(text: str, fen: str, before: str = "") -> set[str]:
    """The moves (SAN) the last phrase may name in a position, the move `before` (UCI) played first."""
    board, last = chess.Board(fen), None
    if before:
        last = Choice(board.copy(), chess.Move.from_uci(before))
        board.push_uci(before)
    phrase = phrases(text)[-1]
    within = chess.BB_CORNERS if phrase.form == "corner" else chess.BB_ALL
    return {board.san(choice.move) for choice in candidates(phrase, Position(board), last, within)}


@pytest.mark.parametrize(
    ("text", "files"),
    [
        ("the king's pawn goes two squares.", "e"),
        ("White's queen pawn advances.", "d"),
        ("Both kings' pawns march out.", "e"),
        ("the queen's bishop's pawn moves up.", "c"),
        ("he pushed the knight's pawn.", "bg"),
        ("the rook's pawn advances.", "ah"),
    ],
)
def test_a_pawn_named_by_the_man_behind_it_stands_on_his_file(text: str, files: str) -> None:
    (phrase,) = phrases(text)
    assert phrase.kind == "pawn"
    assert phrase.ofiles is not None
    assert "".join(letter for letter, cost in zip(FILES, phrase.ofiles, strict=True) if cost == 0) == files


def test_the_king_is_not_the_mover_of_the_kings_pawn() -> None:
    assert [p.piece for p in phrases("the king's rook slides to e8, the queen's knight comes out.")] == ["R", "N"]


def test_her_pawn_is_no_queens_pawn() -> None:
    assert all(p.ofiles is None for p in phrases("she pushed her pawn."))


def test_of_two_knights_the_wording_tells_which() -> None:
    board = chess.Board()
    (phrase,) = phrases("The king's knight comes out.")

    def wing(uci: str) -> set[str]:
        features = fit_features(phrase, Choice(board, chess.Move.from_uci(uci)), (None, None), 4)
        return {name for name, _ in features if name.startswith("wing")}

    assert (wing("g1f3"), wing("b1c3")) == ({"wing+"}, {"wing-"})


def test_the_colour_of_its_squares_tells_a_bishop() -> None:
    (phrase,) = phrases("Out comes the king's bishop.")
    board = chess.Board("r2qk2r/8/8/8/8/8/8/R1BQKB1R w KQkq - 0 1")
    board.turn = chess.WHITE
    light = fit_features(phrase, Choice(board, chess.Move.from_uci("f1b5")), (None, None), 4)
    dark = fit_features(phrase, Choice(board, chess.Move.from_uci("c1g5")), (None, None), 4)
    assert ("wing+", 1.0) in light
    assert ("wing-", 1.0) in dark


def test_into_the_corner_is_a_kings_move_there() -> None:
    assert moves("He steps into the corner.", "6k1/8/8/8/8/8/8/K7 b - - 0 1") == {"Kh8"}


@pytest.mark.parametrize("text", ["The rook in the corner is bad.", "That is just around the corner shop."])
def test_a_corner_only_talked_of_is_no_move(text: str) -> None:
    assert not [p for p in phrases(text) if p.form == "corner"]


def test_a_man_is_put_in_the_way_of_a_check() -> None:
    fen = "4k3/8/8/8/8/8/3N1PPP/2rQ1BK1 w - - 0 1"
    assert moves("He blocks with the knight.", "6k1/8/8/8/8/8/3N1PPP/2r3K1 w - - 0 1") == {"Nf1"}
    assert moves("He blocks.", fen) == set(), "nothing is in check there"


def test_the_other_side_does_the_same() -> None:
    assert moves("Black does the same.", chess.STARTING_FEN, before="e2e4") == {"e5"}
    assert moves("Black does likewise.", chess.STARTING_FEN, before="g1f3") == {"Nf6"}


def test_a_man_alone_between_stops_captures() -> None:
    phrase = phrases("Takes. With the bishop.")[-1]
    assert (phrase.kind, phrase.piece, phrase.take) == ("take", "B", True)
    assert [p for p in phrases("A game with the bishop pair is nice.") if p.form == "with"] == []


def test_who_takes_back_captures_and_who_takes_a_move_back_does_not() -> None:
    assert [p.kind for p in phrases("I take back.")] == ["take"]
    assert phrases("Take back to move six.") == []


def test_en_passant_alone_is_a_capture() -> None:
    assert moves("En passant!", "4k3/8/8/8/4p3/8/3P4/4K3 w - - 0 1", before="d2d4") == {"exd3"}


def test_a_square_and_a_check_after_a_comma_may_be_two_moves() -> None:
    (phrase,) = phrases("d6, check,")
    assert phrase.check
    assert phrase.split is not None
    move, check = phrase.split
    assert (move.kind, move.check, check.kind) == ("square", False, "check")


@pytest.mark.parametrize(("text", "piece"), [("knight see three,", "N"), ("the match, lucky one,", "R")])
def test_a_letter_word_after_a_man_is_his_square(text: str, piece: str) -> None:
    phrase = phrases(text)[-1]
    assert (phrase.kind, phrase.piece, phrase.form) == ("square", piece, "soft")


def test_a_lone_i_before_a_digit_may_be_all_that_is_left_of_a_knight() -> None:
    phrase = phrases("the I6 check, king f6")[0]
    assert phrase.mute
    assert not phrases("rook I6 check")[0].mute
    board = chess.Board("8/5pk1/8/8/3N4/8/6K1/8 w - - 0 1")
    fits = fit_features(phrase, Choice(board, chess.Move.from_uci("d4e6")), (None, None), 4)
    assert ("mute", 1.0) in fits
    assert "file" not in {name for name, _ in fits}
