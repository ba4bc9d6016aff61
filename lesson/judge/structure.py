"""Claims of material, pawns, files, castling, only moves and openings."""

from __future__ import annotations

from collections.abc import Callable

import chess

from lesson import facts
from lesson.exchanges import VALUES
from lesson.hear.claims import Claim
from lesson.hear.clauses import Man
from lesson.judge.scene import OPEN, Judgement, Scene, colors, no, told, yes
from lesson.judge.standing import amount_ahead, has_more, has_opening, listed, name, settled

# ---------------------------------------------------------------------------------------------------------- material


# What a rook is worth more than a minor piece, in pawns.
_EXCHANGE = VALUES[chess.ROOK] - VALUES[chess.KNIGHT]


def _ahead(claim: Claim, scene: Scene, sign: int) -> Judgement:
    doubtful = False
    for board in settled(scene.board):
        for side in colors(claim.side):
            if amount_ahead(board, side if sign > 0 else not side, claim.piece, claim.number):
                return yes(_count(board))
            stands = board is scene.board
            doubtful = doubtful or _may_be_ahead(claim, board, side if sign > 0 else not side, stands)
    return OPEN if doubtful else no(_count(scene.board))


def _may_be_ahead(claim: Claim, board: chess.Board, side: chess.Color, stands: bool) -> bool:
    """Whether `side` may be called so much ahead though the count is another: something was given for it, or it is more
    than was said. Not where it is down on the whole, or has more than the number that was named. `stands`: the board is
    that of the claim, not one after a capture."""
    balance = facts.material_balance(board) * (1 if side else -1)
    if stands and claim.piece == "M" and balance >= VALUES[chess.KNIGHT] * claim.number:
        # A rook is a piece too.
        return True
    if stands and claim.piece == "P" and balance >= claim.number and not _only_pawns_differ(board):
        # "Two pawns up" with a piece more and a pawn.
        return True
    if not has_more(board, side, claim.piece, claim.number):
        return False
    if claim.manner == "extra":
        return True
    counted = claim.number > 1 and claim.piece == "P" and _only_pawns_differ(board)
    return balance > -_EXCHANGE and not counted


def _only_pawns_differ(board: chess.Board) -> bool:
    return facts.men(board, chess.WHITE)[1:] == facts.men(board, chess.BLACK)[1:]


def ahead(claim: Claim, scene: Scene) -> Judgement:
    return _ahead(claim, scene, 1)


def behind(claim: Claim, scene: Scene) -> Judgement:
    return _ahead(claim, scene, -1)


def traded(claim: Claim, scene: Scene) -> Judgement:
    for board in settled(scene.board):
        for side in colors(claim.side):
            own, other = facts.men(board, side), facts.men(board, not side)
            if own[1] + own[2] - other[1] - other[2] == 2 and other[3] - own[3] == 1 and own[4] == other[4]:
                return yes(_count(board))
    return no(_count(scene.board))


def level(claim: Claim, scene: Scene) -> Judgement:
    if any(facts.material_balance(board) == 0 for board in settled(scene.board)):
        return yes(_count(scene.board))
    return no(_count(scene.board))


def _count(board: chess.Board) -> str:
    """The men of both sides, as in "White Q RR BN 6, Black Q RR NN 6"."""
    texts = []
    for side in (chess.WHITE, chess.BLACK):
        pawns, *pieces = facts.men(board, side)
        letters = " ".join(letter * number for letter, number in zip("QRBN", reversed(pieces), strict=True) if number)
        texts.append(f"{name(side)} {letters + ' and ' if letters else ''}{pawns} pawn{'s' if pawns != 1 else ''}")
    return ", ".join(texts)


def bishop_pair(claim: Claim, scene: Scene) -> Judgement:
    board = scene.board
    sides = [side for side in colors(claim.side) if facts.bishop_pair(board, side)]
    return told(bool(sides), _count(board), [s for side in sides[:1] for s in board.pieces(chess.BISHOP, side)])


def opposite_bishops(claim: Claim, scene: Scene) -> Judgement:
    bishops = list(chess.scan_forward(scene.board.bishops))
    return told(facts.opposite_bishops(scene.board), listed(scene.board, bishops) or "there are no bishops", bishops)


# ---------------------------------------------------------------------------------------------------- pawns and files


def pawns_that(
    find: Callable[[chess.Board, chess.Color], tuple[int, ...]], word: str
) -> Callable[[Claim, Scene], Judgement]:
    """Claims that a pawn is of a sort, wherever its file, square or colour were said."""

    def judged(claim: Claim, scene: Scene) -> Judgement:
        board = scene.board
        man = claim.targets[0] if claim.targets else Man("P")
        if man.piece not in ("P", ""):
            return OPEN
        squares = {m.square for m in claim.targets if m.square}
        files = {*claim.files, *(m.file for m in claim.targets if m.file)}
        sides = colors(*(m.side for m in claim.targets), claim.side)
        meant = [
            s
            for side in sides
            for s in board.pieces(chess.PAWN, side)
            if (not squares or chess.square_name(s) in squares) and (not files or chess.square_name(s)[0] in files)
        ]
        found = [s for s in meant if any(s in find(board, side) for side in sides)]
        # "They are all passed", and what denies it of one of several, is so only of all.
        each = bool(claim.targets) and claim.every != claim.denied
        truth = bool(found) and (not each or len(found) == len(meant))
        evidence = f"{listed(board, found)} {word}" if found else f"no such pawn {word}"
        if found and not truth:
            evidence = f"only {evidence}"
        return told(truth, evidence, found)

    return judged


def open_file(claim: Claim, scene: Scene) -> Judgement:
    file = "abcdefgh".index(claim.files[0])
    pawns = list(chess.scan_forward(scene.board.pawns & chess.BB_FILES[file]))
    return told(file in facts.open_files(scene.board), listed(scene.board, pawns) or "no pawn stands on it", pawns)


def half_open_file(claim: Claim, scene: Scene) -> Judgement:
    files = ["abcdefgh".index(name) for name in claim.files]
    pawns = [s for file in files for s in chess.scan_forward(scene.board.pawns & chess.BB_FILES[file])]
    truth = any(set(files) <= set(facts.half_open_files(scene.board, side)) for side in colors(claim.side))
    return told(truth, listed(scene.board, pawns) or "no pawn stands on it", pawns)


# ------------------------------------------------------------------------------------- castling, only move, openings


def uncastled(claim: Claim, scene: Scene) -> Judgement:
    has = {
        "": chess.Board.has_castling_rights,
        "short": chess.Board.has_kingside_castling_rights,
        "long": chess.Board.has_queenside_castling_rights,
    }[claim.manner]
    sides = colors(claim.side)
    lost = [s for s in sides if not has(scene.board, s)]
    truth = len(lost) == len(sides) if claim.every else bool(lost)
    return told(truth, f"{name(lost[0])} has no castling right" if truth else "the right is still there")


def cannot_castle(claim: Claim, scene: Scene) -> Judgement:
    for side in colors(claim.side):
        board = scene.board.copy(stack=False)
        board.turn = side
        if not any(board.is_castling(m) for m in board.legal_moves):
            return yes(f"{name(side)} has no legal castling move")
    return no("castling is legal")


def only_legal(claim: Claim, scene: Scene) -> Judgement:
    boards = [b for b in (scene.before, scene.board) if b is not None]
    if any(facts.only_move(b) for b in boards):
        return yes("there is one legal move")
    return no(f"there are {min(b.legal_moves.count() for b in boards)} legal moves")


def only_move(claim: Claim, scene: Scene) -> Judgement:
    return found if (found := only_legal(claim, scene)).truth == "true" else OPEN


def opening(claim: Claim, scene: Scene) -> Judgement:
    if scene.line is None:
        return OPEN
    truth, evidence = has_opening(scene.line, claim.lines)
    return OPEN if truth is None else told(truth, evidence)
