"""Opening theory: against python-chess's rules and the main lines any handbook gives."""

from __future__ import annotations

from collections import Counter

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson import openings
from lesson.errors import DataError


def after(sans: str) -> chess.Board:
    board = chess.Board()
    for san in sans.split():
        board.push_san(san)
    return board


def test_every_catalogued_line_is_legal() -> None:
    lines = sorted({line.moves for line in openings.lines()})
    assert len(lines) > 5000
    for moves in lines[::7]:
        board = chess.Board()
        for uci in moves:
            board.push_uci(uci)


@given(st.lists(st.integers(0, 200), max_size=30))
def test_keys_tell_positions_apart_as_fide_does(choices: list[int]) -> None:
    # FIDE Laws 9.2.3: same men, same side to move, same castling and en passant rights; EPD with a legal en passant
    # square says the same.
    board, other = chess.Board(), chess.Board()
    for choice in choices:
        moves = sorted(board.legal_moves, key=chess.Move.uci)
        if not moves:
            break
        board.push(moves[choice % len(moves)])
        assert openings.position_key(board) != openings.position_key(other)
    other = chess.Board(f"{board.epd(en_passant='legal')} 0 1")
    assert openings.position_key(board) == openings.position_key(other)


def test_weights_count_lines_by_position() -> None:
    book = openings.book()
    assert book.weight(chess.Board()) == len(openings.lines())
    # By hand over the file: the lines that reach the position after 1.e4 c5, in this order or another.
    key = openings.position_key(after("e4 c5"))
    direct = sum(line.moves[:2] == ("e2e4", "c7c5") for line in openings.lines())
    assert book.weight(key) >= direct > 200
    assert book.weight(after("a4 a5 h4 h5 Ra3")) == 0
    assert book.moves(after("a4 a5 h4 h5 Ra3")) == {}


@pytest.mark.parametrize(
    ("one", "other"),
    [("d4 Nf6 c4 e6 Nc3 Bb4", "c4 Nf6 d4 e6 Nc3 Bb4"), ("e4 e5 Nf3 Nc6 Bc4 Nf6", "e4 e5 Bc4 Nf6 Nf3 Nc6")],
)
def test_move_orders_do_not_matter(one: str, other: str) -> None:
    book = openings.book()
    assert book.weight(after(one)) == book.weight(after(other)) > 0
    assert book.moves(after(one)) == book.moves(after(other)) != {}
    assert openings.name_at(after(one)) == openings.name_at(after(other))


def test_continuations_are_legal_and_add_up() -> None:
    book = openings.book()
    board = chess.Board()
    for san in ("d4", "d5", "c4", "e6", "Nc3", "Nf6", "Bg5", "Be7"):
        moves = book.moves(board)
        assert all(chess.Move.from_uci(uci) in board.legal_moves for uci in moves)
        # Every line through here goes on or ends here.
        ends = Counter(line.moves for line in openings.lines())[tuple(m.uci() for m in board.move_stack)]
        assert 0 <= book.weight(board) - sum(moves.values()) - ends <= 10
        board.push_san(san)
    assert max(book.moves(chess.Board()), key=lambda uci: book.moves(chess.Board())[uci]) == "e2e4"


@pytest.mark.parametrize(
    ("sans", "name"),
    [
        # Main lines of the Encyclopaedia of Chess Openings (A56 to E97), names as every handbook has them.
        ("e4 c5", "Sicilian"),
        ("e4 c6", "Caro-Kann"),
        ("e4 e5 Nf3 Nc6 Bb5 Nf6", "Berlin"),
        ("e4 c5 Nf3 d6 d4 cxd4 Nxd4 Nf6 Nc3 a6", "Najdorf"),
        ("d4 Nf6 c4 g6 Nc3 d5", "Grünfeld"),
        ("d4 d5 c4 c6 Nc3 Nf6 Nf3 e6", "Semi-Slav"),
        ("e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7 Re1 b5 Bb3 O-O c3 d5", "Marshall"),
        ("d4 Nf6 c4 e6 Nf3 b6", "Queen's Indian"),
    ],
)
def test_names_of_main_lines(sans: str, name: str) -> None:
    board = after(sans)
    assert name in (openings.name_of(board) or "")
    assert name in (openings.name_of([m.uci() for m in board.move_stack]) or "")
    board.push(next(iter(board.legal_moves)))
    assert openings.name_of(board) is not None


def test_no_name_and_no_line() -> None:
    assert openings.name_of([]) is None
    assert openings.name_of(chess.Board("4k3/8/8/8/8/8/8/R3K3 w Q - 0 1")) is None
    with pytest.raises(ValueError, match="illegal"):
        openings.name_of(["e2e5"])


def test_titles_hold_words_only() -> None:
    titled = {openings._title(line) for line in openings.lines()}
    strange = [t for t in titled if not openings._speakable(t)]
    assert not strange


def test_names_are_words_and_legal_lines() -> None:
    names = openings.names()
    assert len({n.words for n in names}) > 1500
    for name in names[::5]:
        board = chess.Board()
        for uci in name.moves:
            board.push_uci(uci)
        assert 1 <= len(name.words) <= 5
        assert all(w.replace("'", "").isascii() and w == w.lower() for w in name.words)


@pytest.mark.parametrize(
    ("words", "sans"),
    [
        ("caro kann", "e4 c6"),
        ("nimzo indian", "d4 Nf6 c4 e6 Nc3 Bb4"),
        ("benko gambit", "d4 Nf6 c4 c5 d5 b5"),
        ("evans gambit", "e4 e5 Nf3 Nc6 Bc4 Bc5 b4"),
        ("winawer", "e4 e6 d4 d5 Nc3 Bb4"),
        ("trompowsky", "d4 Nf6 Bg5"),
        ("old indian", "d4 Nf6 c4 d6"),
        ("smith morra gambit", "e4 c5 d4 cxd4 c3"),
    ],
)
def test_the_names_teachers_say(words: str, sans: str) -> None:
    lines = [n.moves for n in openings.names() if n.words == tuple(words.split())]
    assert tuple(m.uci() for m in after(sans).move_stack) in lines


def test_written_names_agree_with_the_catalogue() -> None:
    """A line written by us must be called so by the catalogue too, wherever it has that position."""
    aliases = {"volga": "benko", "russian": "petrov", "petroff": "petrov", "petroff's": "petrov", "spanish": "ruy"}
    aliases |= {"the": "ruy", "alekhine's": "alekhine", "saemisch": "samisch"}
    unlike, met = [], 0
    for name in openings.names():
        if not name.common:
            continue
        board = chess.Board()
        for uci in name.moves:
            board.push_uci(uci)
        line = openings.book().endings.get(openings.position_key(board))
        if line is None:
            continue
        met += 1
        said = openings._fold(" ".join((line.name, *line.aliases)))
        if not any(aliases.get(w, w).rstrip("'s") in said for w in name.words):
            unlike.append((name.words, line.name))
    assert met > 100
    assert unlike == []


def test_an_illegal_line_in_the_grammar_is_named() -> None:
    with pytest.raises(DataError, match="broken pawn"):
        list(openings._given({"group": [{"needs": "", "names": {"broken pawn": "e4 e4"}}]}, "x.toml"))
