"""A typed answer: a move in SAN, UCI or words, "not a move", or "back to ..."."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

import chess

from lesson.errors import UsageError
from lesson.review.shown import Shown, Spot
from lesson.settings import SHOWN_CHARACTERS

_PIECES = {"pawn": "P", "knight": "N", "bishop": "B", "rook": "R", "queen": "Q", "king": "K"}
_SAME = {"night": "knight", "x": "takes", "take": "takes", "captures": "takes", "capture": "takes", "castle": "castles"}
_SAME |= {"castling": "castles", "kingside": "short", "queenside": "long", "promotes": "equals", "=": "equals"}
_RANKS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8"}
_IDLE = {"to", "on", "the", "from", "move", "with", "check", "mate", "checkmate", "side", "and", "moves", "goes"}
_BACK = re.compile(r"(?:go |goes |going )?back(?: to| before| after)?\b\s*(.*)", re.IGNORECASE)
_NOT_A_MOVE = {"", "-", "no", "none", "talk", "not a move", "no move", "nothing"}


def is_no_move(text: str) -> bool:
    """Whether the answer says that nothing was moved."""
    return " ".join(text.lower().rstrip(".!").split()) in _NOT_A_MOVE


def back_to(text: str) -> str | None:
    """What follows "back to" in the answer, None where it is no going back."""
    match = _BACK.fullmatch(text.strip())
    return match[1].strip() if match else None


def read_move(text: str, fen: str) -> chess.Move:
    """The one legal move at `fen` that the text names. Raises UsageError that says what is missing."""
    board = chess.Board(fen)
    for spelling in (text.strip(), text.strip()[:1].upper() + text.strip()[1:]):
        for parse in (board.parse_san, board.parse_uci):
            move = _tried(parse, spelling)
            if move:
                return move
    tokens = _tokens(text)
    fitting = [move for move in board.legal_moves if _fits(tokens, board, move)]
    if any(re.fullmatch("[a-h]", token) for token in tokens) and not any(token in _PIECES for token in tokens):
        # "g takes h6": a file without a piece is a pawn's, in speech as in SAN (8.2.3.3 of the standard)
        fitting = [move for move in fitting if board.piece_type_at(move.from_square) == chess.PAWN] or fitting
    if len(fitting) == 1:
        return fitting[0]
    plain = [move for move in fitting if not move.promotion or move.promotion == chess.QUEEN]
    if len(plain) == 1:
        return plain[0]
    shown = text.strip()[:SHOWN_CHARACTERS]
    if not fitting:
        raise UsageError(f"“{shown}” is no legal move here")
    names = ", ".join(board.san(move) for move in fitting[:6])
    raise UsageError(f"“{shown}” may be {names}; say which")


def _tried(parse: Callable[[str], chess.Move], text: str) -> chess.Move | None:
    try:
        move = parse(text)
    except ValueError:
        return None
    return move if move else None


def _tokens(text: str) -> list[str]:
    """Lower-case words; a square spoken in two words becomes one."""
    raw = re.findall(r"[a-h][1-8]|[a-z]+|[1-8]|=", text.lower().replace("-", " "))
    words = [_SAME.get(word, _RANKS.get(word, word)) for word in raw]
    out: list[str] = []
    for word in words:
        if word in "12345678" and out and re.fullmatch("[a-h]", out[-1]):
            out[-1] += word
        elif word not in _IDLE:
            out.append(word)
    return out


def _fits(tokens: list[str], board: chess.Board, move: chess.Move) -> bool:
    """Whether every token is true of the move, the last square being where it lands."""
    if not tokens:
        return False
    if "castles" in tokens:
        if not board.is_castling(move):
            return False
        sides = {"short", "long"} & set(tokens)
        return not sides or sides == {"short" if board.is_kingside_castling(move) else "long"}
    squares = [t for t in tokens if re.fullmatch("[a-h][1-8]", t)]
    pieces = [_PIECES[t] for t in tokens if t in _PIECES]
    mover = chess.piece_symbol(board.piece_type_at(move.from_square) or 1).upper()
    names = (chess.square_name(move.from_square), chess.square_name(move.to_square))
    checks = [
        not squares or squares[-1] == names[1],
        len(squares) < 2 or squares[0] == names[0],
        not pieces or pieces[0] == mover or move.promotion is not None,
        "takes" not in tokens or board.is_capture(move),
        bool(pieces) or bool(squares) or "takes" in tokens,
    ]
    if ("equals" in tokens or move.promotion) and pieces and pieces[-1] != "P":
        checks.append(move.promotion is not None and chess.piece_symbol(move.promotion).upper() == pieces[-1])
    for token in tokens:
        if re.fullmatch("[a-h1-8]", token):
            checks.append(token in names[0])
        elif token not in _PIECES and token not in squares and token not in ("takes", "equals"):
            return False
    return all(checks)


def read_return(text: str, shown: Shown, here: str, word: int) -> Spot:
    """The position that "back to `text`" means, said at word `word` with the board at `here`.

    "6. Nf3" and "Nf3" are the position after that move, "6" the one in which move 6 is to be played ("6..." for
    Black), "start" the chapter's first. Of several, one on the line to the board counts before others, a later one
    before an earlier one. Raises UsageError.
    """
    chapter = shown.spots[here].chapter
    ours = [s for s in shown.spots.values() if s.chapter == chapter and (s.move is None or s.move.words[0] <= word)]
    match = re.fullmatch(r"(?:move )?(\d+)?\s*(\.{1,3})?\s*(.*)", text.strip().lower())
    number, dots, name = match.groups() if match else (None, None, text)
    if name in ("start", "the start", "beginning", "the beginning") and not number:
        return next(s for s in ours if s.move is None)
    if name:
        found = [s for s in ours if s.move and _named(s, name) and (not number or s.number.startswith(f"{number}."))]
    elif number:
        turn = "b" if dots and len(dots) > 1 else "w"
        found = [s for s in ours if s.fen.split()[1] == turn and s.fen.split()[-1] == number]
    else:
        found = []
    if not found:
        raise UsageError(f"there is no “{text.strip()[:SHOWN_CHARACTERS]}” to go back to in this chapter")
    return _nearest(found, {s.id for s in shown.line(here)})


def _named(spot: Spot, name: str) -> bool:
    move = spot.move
    return move is not None and name.rstrip("+#") in (move.san.lower().rstrip("+#"), move.uci)


def _nearest(found: Iterable[Spot], line: set[str]) -> Spot:
    return max(found, key=lambda s: (s.id in line, s.move.words[0] if s.move else -1, len(s.path)))
