"""What captures win: the worth of men, and exchanges on one square. Knows no words of a talk, takes a `chess.Board` and
never changes it.

Values are in pawns: 1, 3, 3, 5, 9 for pawn, knight, bishop, rook and queen (common practice, no source).
"""

from __future__ import annotations

import chess

VALUES = (0.0, 1.0, 3.0, 3.0, 5.0, 9.0, 1000.0)
_CHEAPEST_FIRST = (chess.PAWN, chess.KNIGHT, chess.BISHOP, chess.ROOK, chess.QUEEN, chess.KING)


def value(board: chess.Board, square: chess.Square) -> float:
    """Pawns' worth of the man on a square, 0 for none; a king counts 1000."""
    return VALUES[board.piece_type_at(square) or 0]


def _pinned(
    board: chess.Board, side: chess.Color, occupied: chess.Bitboard
) -> list[tuple[chess.Bitboard, chess.Bitboard]]:
    """(pinned man, squares it may still go to) for a side, given the occupied squares."""
    kings = board.kings & board.occupied_co[side] & occupied
    if not kings:
        return []
    king = kings.bit_length() - 1
    enemies = board.occupied_co[not side] & occupied
    straight = chess.BB_RANK_ATTACKS[king][0] | chess.BB_FILE_ATTACKS[king][0]
    snipers = enemies & (
        (straight & (board.rooks | board.queens)) | (chess.BB_DIAG_ATTACKS[king][0] & (board.bishops | board.queens))
    )
    out = []
    while snipers:
        sniper = snipers & -snipers
        snipers ^= sniper
        between = chess.between(king, sniper.bit_length() - 1)
        blockers = between & occupied
        if blockers and not blockers & (blockers - 1) and blockers & board.occupied_co[side]:
            out.append((blockers, between | sniper))
    return out


def _exchange(
    board: chess.Board, square: chess.Square, side: chess.Color, standing: float, occupied: chess.Bitboard
) -> float:
    """What `side` wins by starting captures on a square where a man worth `standing` of the other side stands.

    The swap method: each side takes with its cheapest man or stops, lines opened by captures count, a man pinned to
    its king takes only along the pin. `occupied` may differ from the board's (a move made only in thought).
    """
    target = chess.BB_SQUARES[square]
    occupied &= ~target
    first = board.attackers_mask(side, square, occupied) & occupied
    if not first:
        return 0.0
    attackers = {side: first, not side: board.attackers_mask(not side, square, occupied) & occupied}
    stuck = {
        s: sum(man for man, free in _pinned(board, s, occupied | target) if not free & target) if attackers[s] else 0
        for s in (side, not side)
    }
    kinds = (0, board.pawns, board.knights, board.bishops, board.rooks, board.queens, board.kings)
    gains = [standing]
    turn = side
    while True:
        ready = attackers[turn] & ~stuck[turn]
        if not ready:
            break
        kind = next(k for k in _CHEAPEST_FIRST if ready & kinds[k])
        # A king cannot take what is still guarded.
        if kind == chess.KING and attackers[not turn] & ~stuck[not turn]:
            break
        man = ready & kinds[kind]
        occupied &= ~(man & -man)
        turn = not turn
        gains.append(VALUES[kind] - gains[-1])
        attackers = {s: board.attackers_mask(s, square, occupied) & occupied for s in (side, not side)}
    # The last capture is not recaptured, so the last entry falls; before it each side may stop.
    gains.pop()
    if not gains:
        return 0.0
    for i in range(len(gains) - 1, 0, -1):
        gains[i - 1] = -max(-gains[i - 1], gains[i])
    return max(0.0, gains[0])


def exchange_value(board: chess.Board, square: chess.Square, side: chess.Color) -> float:
    """Pawns that `side` wins at best by capturing on a square, the other side recapturing; 0 if nothing is won.

    Static exchange evaluation on that one square: checks, threats elsewhere and whose turn it is do not count.
    """
    standing = board.piece_type_at(square)
    if standing is None or not board.occupied_co[not side] & chess.BB_SQUARES[square] or standing == chess.KING:
        return 0.0
    return _exchange(board, square, side, VALUES[standing], board.occupied)


def captures_value(board: chess.Board, move: chess.Move) -> float:
    """Pawns' worth of what a move takes off the board, 0 for a quiet move."""
    if board.is_castling(move):
        return 0.0
    if board.is_en_passant(move):
        return VALUES[chess.PAWN]
    return VALUES[board.piece_type_at(move.to_square) or 0]


def move_value(board: chess.Board, move: chess.Move) -> float:
    """Pawns a move wins (or loses, below 0) on its destination square: what it takes and promotes to, less what the
    best captures there cost it."""
    kind = board.piece_type_at(move.from_square)
    if kind is None or (kind == chess.KING and board.is_castling(move)):
        return 0.0
    side = board.turn
    origin, target = chess.BB_SQUARES[move.from_square], chess.BB_SQUARES[move.to_square]
    occupied = (board.occupied & ~origin) | target
    gain = VALUES[board.piece_type_at(move.to_square) or 0]
    if kind == chess.PAWN and move.to_square == board.ep_square and move.from_square & 7 != move.to_square & 7:
        gain = VALUES[chess.PAWN]
        occupied &= ~chess.BB_SQUARES[move.to_square + (-8 if side else 8)]
    if kind == chess.KING:
        return gain
    standing = VALUES[kind]
    if move.promotion:
        standing = VALUES[move.promotion]
        gain += standing - VALUES[chess.PAWN]
    if not board.attackers_mask(not side, move.to_square, occupied) & occupied & ~target:
        return gain
    if _uncovers_check(board, move, occupied):
        return gain
    return gain - _exchange(board, move.to_square, not side, standing, occupied)


def _uncovers_check(board: chess.Board, move: chess.Move, occupied: chess.Bitboard) -> bool:
    """Whether a line-moving man other than the moved one gives check after the move: then there is no time to take."""
    kings = board.kings & board.occupied_co[not board.turn]
    if not kings:
        return False
    king = kings.bit_length() - 1
    if not chess.ray(move.from_square, king):
        return False
    target = chess.BB_SQUARES[move.to_square]
    return bool(
        board.attackers_mask(board.turn, king, occupied) & occupied & ~target & ~chess.BB_SQUARES[move.from_square]
    )


def hangs(board: chess.Board, move: chess.Move) -> float:
    """Pawns the mover loses on the destination square by playing a move, 0 if the move is sound there."""
    return max(0.0, -move_value(board, move))


def loose_men(board: chess.Board, side: chess.Color) -> dict[chess.Square, float]:
    """A side's men that the other side could win where they stand, with the pawns it would win."""
    out = {}
    for square in chess.scan_forward(board.occupied_co[side] & ~board.kings):
        if (lost := exchange_value(board, square, not side)) > 0:
            out[square] = lost
    return out
