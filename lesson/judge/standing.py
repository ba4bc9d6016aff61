"""What the judges of claims ask of a board beyond `lesson.facts`: which men are meant, who is how much ahead."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import chess

from lesson import exchanges, facts
from lesson.hear.clauses import Man
from lesson.openings import name_of, position_key

_LETTERS = " PNBRQK"


def name(side: chess.Color) -> str:
    """ "White" or "Black"."""
    return "White" if side else "Black"


def listed(board: chess.Board, squares: Iterable[int]) -> str:
    """Men with their squares, "the knight on c7, the rook on a8"; an empty square is named alone."""
    texts = []
    for square in squares:
        kind = board.piece_type_at(square)
        where = chess.square_name(square)
        texts.append(f"the {chess.piece_name(kind)} on {where}" if kind else where)
    return ", ".join(texts)


def matching(board: chess.Board, man: Man, colors: Sequence[chess.Color]) -> tuple[int, ...]:
    """The squares of the men that may be meant: of the kind, colour, square and file said."""
    wanted = board.occupied
    if man.piece == "M":
        wanted &= ~(board.pawns | board.kings)
    elif man.piece:
        kinds = (0, board.pawns, board.knights, board.bishops, board.rooks, board.queens, board.kings)
        wanted &= kinds[_LETTERS.index(man.piece)]
    if man.square:
        wanted &= chess.BB_SQUARES[chess.parse_square(man.square)]
    if man.file:
        wanted &= chess.BB_FILES["abcdefgh".index(man.file)]
    sides = {"w": [chess.WHITE], "b": [chess.BLACK]}.get(man.side, list(colors))
    return tuple(s for side in sides for s in chess.scan_forward(wanted & board.occupied_co[side]))


def lined_up(board: chess.Board, side: chess.Color) -> Iterator[facts.LineTactic]:
    """Every line on which a man of `side` sees an enemy man and, through it, the next enemy man behind."""
    for attacker in chess.scan_forward(board.occupied_co[side] & (board.bishops | board.rooks | board.queens)):
        for front in board.attacks(attacker) & board.occupied_co[not side]:
            without = board.copy(stack=False)
            without.remove_piece_at(front)
            beyond = without.attacks_mask(attacker) & ~board.attacks_mask(attacker) & board.occupied_co[not side]
            for behind in chess.scan_forward(beyond):
                yield facts.LineTactic(attacker, front, behind)


def settled(board: chess.Board) -> Iterator[chess.Board]:
    """The position, and what it becomes by each capture that wins something: speakers count the one that is coming."""
    yield board
    for move in board.generate_legal_captures():
        if exchanges.move_value(board, move) > 0:
            after = board.copy(stack=False)
            after.push(move)
            yield after


def amount_ahead(board: chess.Board, side: chess.Color, piece: str, number: int) -> bool:
    """Whether `side` has `number` men of a kind more than the other: "P" pawns, "X" the exchange, "M" any minor piece.

    A piece up may have cost up to two pawns; knight and bishop count alike.
    """
    own, other = facts.men(board, side), facts.men(board, not side)
    pawns, knights, bishops, rooks, queens = (a - b for a, b in zip(own, other, strict=True))
    minors = knights + bishops
    match piece:
        case "P":
            return (minors, rooks, queens) == (0, 0, 0) and pawns == number
        case "X":
            return rooks == 1 and minors == -1 and queens == 0
        case "R":
            return rooks == number and minors == 0 and queens == 0
        case "Q":
            return queens == number and minors == 0 and rooks == 0
        case "M" | "N" | "B":
            return minors == number and rooks == 0 and queens == 0 and pawns > -3
    return False


def has_more(board: chess.Board, side: chess.Color, piece: str, number: int) -> bool:
    """Whether `side` has at least `number` men more of a kind, whatever else the other has for them."""
    own, other = facts.men(board, side), facts.men(board, not side)
    pawns, knights, bishops, rooks, queens = (a - b for a, b in zip(own, other, strict=True))
    more = {"P": pawns, "R": rooks, "Q": queens, "X": 0}.get(piece, knights + bishops)
    return more >= number


def has_opening(line: Sequence[str], openings: Sequence[Sequence[str]]) -> tuple[bool | None, str]:
    """Whether the UCI moves `line` went through a position the named `openings` stand for, in any move order.

    None where it may still come, or where one side has set up as the name says and the other has not.
    """
    board = chess.Board()
    met = {position_key(board)}
    for uci in line:
        board.push_uci(uci)
        met.add(position_key(board))
    called = name_of(board)
    evidence = f"it is the {called}" if called else "no opening of that name"
    doubtful = False
    for opening in openings:
        target = chess.Board()
        for uci in opening:
            target.push_uci(uci)
        if position_key(target) in met:
            return True, evidence
        # The pawns stand as the name says: a tempo more or less may have been lost on the way.
        doubtful = doubtful or (
            target.pawns.bit_count() < 16
            and (target.pawns, target.occupied_co[True] & target.pawns)
            == (
                board.pawns,
                board.occupied_co[True] & board.pawns,
            )
        )
        sides = [set(opening[side::2]) <= set(line[side::2]) for side in (0, 1)]
        if all(sides):
            return True, evidence
        doubtful = doubtful or sides[(len(opening) - 1) % 2] or len(line) < len(opening)
    return (None if doubtful else False), evidence
