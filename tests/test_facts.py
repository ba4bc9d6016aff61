"""Facts on the board: against python-chess's own functions and published positions."""

from __future__ import annotations

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson import exchanges, facts


@st.composite
def boards(draw: st.DrawFn) -> chess.Board:
    """A position some random legal moves into a game."""
    board = chess.Board()
    for choice in draw(st.lists(st.integers(0, 10_000), max_size=70)):
        moves = sorted(board.legal_moves, key=chess.Move.uci)
        if not moves:
            break
        board.push(moves[choice % len(moves)])
    return board.copy(stack=False)


def squares(*names: str) -> set[int]:
    return {chess.parse_square(n) for n in names}


def mirrored(found: tuple[int, ...]) -> set[int]:
    return {chess.square_mirror(s) for s in found}


@given(boards())
def test_the_board_is_left_as_it_was(board: chess.Board) -> None:
    before = board.copy()
    for move in list(board.legal_moves)[:5]:
        exchanges.hangs(board, move)
        facts.discovered_attacks(board, move)
    facts.pins(board, chess.WHITE)
    facts.forced_mate(board, 1)
    assert board == before
    assert board.fen() == before.fen()


# ----------------------------------------------------------------------------------------------------------- motifs


@given(boards())
def test_attackers_and_absolute_pins_are_python_chess_s(board: chess.Board) -> None:
    for side in chess.COLORS:
        pinned = {t.front for t in facts.pins(board, side, absolute_only=True)}
        expected = {
            s for s in chess.scan_forward(board.occupied_co[not side] & ~board.kings) if board.is_pinned(not side, s)
        }
        assert pinned == expected
    for square in chess.SQUARES:
        assert set(facts.attackers(board, square, chess.WHITE)) == set(board.attackers(chess.WHITE, square))
        own = board.color_at(square)
        assert set(facts.defenders(board, square)) == (set() if own is None else set(board.attackers(own, square)))


def test_relative_pin() -> None:
    # 1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Bg5: the knight on f6 shields the queen on d8 (Queen's Gambit, any handbook).
    board = chess.Board()
    for san in ("d4", "d5", "c4", "e6", "Nc3", "Nf6", "Bg5"):
        board.push_san(san)
    # Before 4...Be7 nothing stands between them.
    assert facts.pins(board, chess.WHITE) == (facts.LineTactic(chess.G5, chess.F6, chess.D8),)
    assert facts.pins(board, chess.WHITE, absolute_only=True) == ()


def test_skewer() -> None:
    # King before queen and queen before rook, the two textbook pictures (common practice, no source).
    absolute = chess.Board("4q3/8/4k3/8/8/8/5K2/7R w - - 0 1")
    absolute.push_uci("h1e1")
    assert facts.skewers(absolute, chess.WHITE) == (facts.LineTactic(chess.E1, chess.E6, chess.E8),)
    relative = chess.Board("7r/8/8/4q3/8/8/1B4k1/K7 w - - 0 1")
    assert facts.skewers(relative, chess.WHITE) == (facts.LineTactic(chess.B2, chess.E5, chess.H8),)
    assert facts.skewers(chess.Board(), chess.WHITE) == ()


def test_fork() -> None:
    # The knight check on c7 that takes the rook in the corner (common practice, no source).
    board = chess.Board("r3k3/2N5/8/8/8/8/8/4K3 b - - 0 1")
    assert set(facts.fork_targets(board, chess.C7)) == squares("a8", "e8")
    # A queen beside two guarded pawns forks nothing; a pawn beside two pieces does.
    assert facts.fork_targets(chess.Board("4k3/1p1p4/p1p5/8/2Q5/8/8/4K3 b - - 0 1"), chess.C4) == ()
    assert set(facts.fork_targets(chess.Board("4k3/8/8/2n1b3/3P4/8/8/4K3 b - - 0 1"), chess.D4)) == squares("c5", "e5")


def test_discovered_attack() -> None:
    # The trap 1.e4 e5 2.Nf3 Nf6 3.Nxe5 Nxe4 4.Qe2 Nf6 5.Nc6+ (Petroff, in every opening handbook).
    board = chess.Board()
    for san in ("e4", "e5", "Nf3", "Nf6", "Nxe5", "Nxe4", "Qe2", "Nf6"):
        board.push_san(san)
    assert facts.discovered_attacks(board, board.parse_san("Nc6+")) == ((chess.E2, chess.E8),)
    assert facts.discovered_attacks(chess.Board(), chess.Move.from_uci("g1f3")) == ()


# --------------------------------------------------------------------------------------------------- pawns, material


def test_pawn_words_on_a_drawn_board() -> None:
    # Terms as in Kmoch, "Pawn Power in Chess" (from memory); the position is ours.
    board = chess.Board("4k3/p4p2/8/3P4/8/2P4P/2P5/4K3 w - - 0 1")
    assert set(facts.passed_pawns(board, chess.WHITE)) == squares("c3", "c2", "d5", "h3")
    assert set(facts.passed_pawns(board, chess.BLACK)) == squares("a7", "f7")
    assert set(facts.isolated_pawns(board, chess.WHITE)) == squares("h3")
    assert set(facts.doubled_pawns(board, chess.WHITE)) == squares("c2", "c3")
    assert facts.open_files(board) == (1, 4, 6)
    assert facts.half_open_files(board, chess.WHITE) == (0, 5)
    assert facts.half_open_files(board, chess.BLACK) == (2, 3, 7)


@given(boards())
def test_pawns_and_material_in_the_mirror(board: chess.Board) -> None:
    other = board.mirror()
    for side in chess.COLORS:
        for fact in (facts.passed_pawns, facts.isolated_pawns, facts.doubled_pawns):
            assert mirrored(fact(board, side)) == set(fact(other, not side))
        assert facts.half_open_files(board, side) == facts.half_open_files(other, not side)
        assert facts.bishop_pair(board, side) == facts.bishop_pair(other, not side)
        assert {t.front for t in facts.pins(board, side)} == mirrored(
            tuple(t.front for t in facts.pins(other, not side))
        )
        assert {t.front for t in facts.skewers(board, side)} == mirrored(
            tuple(t.front for t in facts.skewers(other, not side))
        )
    assert facts.open_files(board) == facts.open_files(other)
    assert facts.material_balance(board) == -facts.material_balance(other)
    assert facts.opposite_bishops(board) == facts.opposite_bishops(other)


@given(boards())
def test_files_are_open_half_open_or_full(board: chess.Board) -> None:
    half = [set(facts.half_open_files(board, side)) for side in chess.COLORS]
    both = {f for f in range(8) if all(board.pawns & board.occupied_co[s] & chess.BB_FILES[f] for s in chess.COLORS)}
    assert sorted([*facts.open_files(board), *half[0], *half[1], *both]) == list(range(8))


def test_material() -> None:
    assert facts.men(chess.Board(), chess.WHITE) == (8, 2, 2, 2, 1)
    assert facts.material_balance(chess.Board("4k3/8/8/8/8/8/8/R3K2n w - - 0 1")) == 2
    assert facts.bishop_pair(chess.Board(), chess.BLACK)
    assert not facts.bishop_pair(chess.Board("4k3/8/8/8/8/8/8/B1B1K3 w - - 0 1"), True)
    assert facts.opposite_bishops(chess.Board("2b1k3/8/8/8/8/8/8/2B1K3 w - - 0 1"))
    assert not facts.opposite_bishops(chess.Board("5b2/8/4k3/8/8/8/8/2B1K3 w - - 0 1"))


# ------------------------------------------------------------------------------------------------------ calculation


@pytest.mark.parametrize(
    ("fen", "moves", "first"),
    [
        # R. Réti - S. Tartakower, Vienna 1910.
        ("rnb1kb1r/pp3ppp/2p5/4q3/4n3/3Q4/PPPB1PPP/2KR1BNR w kq - 0 9", 3, "d3d8"),
        # P. Morphy - Duke of Brunswick and Count Isouard, Paris 1858.
        ("4kb1r/p2n1ppp/4q3/4p1B1/4P3/1Q6/PPP2PPP/2KR4 w k - 1 16", 2, "b3b8"),
        # P. Morphy, problem, 1856: a quiet key.
        ("kbK5/pp6/1P6/8/8/8/8/R7 w - - 0 1", 2, "a1a6"),
        # 1.f3 e5 2.g4: the shortest mate.
        ("rnbqkbnr/pppp1ppp/8/4p3/6P1/5P2/PPPPP2P/RNBQKBNR b KQkq g3 0 2", 1, "d8h4"),
    ],
)
def test_published_mates(fen: str, moves: int, first: str) -> None:
    board = chess.Board(fen)
    found = facts.forced_mate(board, moves)
    assert found.decided
    assert found.line[0].uci() == first
    assert len(found.line) == 2 * moves - 1
    for move in found.line:
        assert move in board.legal_moves
        board.push(move)
    assert board.is_checkmate()
    assert facts.forced_mate(chess.Board(fen), moves - 1) == facts.Mate((), True)


def test_a_search_without_nodes_says_so() -> None:
    found = facts.forced_mate(chess.Board(), 3, max_nodes=50)
    assert found == facts.Mate((), False)


@given(boards())
def test_mate_in_one_is_python_chess_s(board: chess.Board) -> None:
    def mates(move: chess.Move) -> bool:
        after = board.copy(stack=False)
        after.push(move)
        return after.is_checkmate()

    assert bool(facts.forced_mate(board, 1).line) == any(map(mates, board.legal_moves))
    only = facts.only_move(board)
    assert (only is not None) == (board.legal_moves.count() == 1)
    assert only is None or only in board.legal_moves
