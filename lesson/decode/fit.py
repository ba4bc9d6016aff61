"""How well a phrase fits a legal move: readable features, one weight each."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from functools import lru_cache

import chess

from lesson.decode.position import LETTER, Choice, Position
from lesson.hear.phrases import Phrase

Features = list[tuple[str, float]]

CLEAN_COST = 4.0
MAX_SQUARE_COST = 7.0
_CLIP = 6.0
_A_MOVE = re.compile(r"([NBRQK])?([a-h]?[1-8]?)[-x]?([a-h][1-8])(?:=?[nbrqkNBRQK])?[+#]?\Z")
_PROMOTES = {"Q": 5, "R": 4, "B": 3, "N": 2}


def candidates(phrase: Phrase, position: Position, before: Choice | None, within: int) -> list[Choice]:
    """The legal moves a phrase may name after the move `before`, not yet scored; `within` are the squares it may mean
    (a bit set)."""
    if phrase.kind == "known":
        return list(_known(phrase.known, position))
    if phrase.kind == "mirror":
        return [] if before is None else list(mirrored(before, position))
    found = _by_kind(phrase, position, before.target if before is not None and before.captured else -1, within)
    if phrase.kind in ("take", "check", "block") and phrase.piece:
        kept = [c for c in found if LETTER[c.piece] == phrase.piece]
        if phrase.kind != "take" or kept:
            found = kept
    if phrase.form == "passing":
        found = [c for c in found if not c.board.piece_type_at(c.target)]
    if phrase.form == "with" and position.board.is_check():  # "with the bishop": it takes, or it goes between
        found = [*found, *(c for c in position.choices if LETTER[c.piece] == phrase.piece and not c.captured)]
    if phrase.kind == "take" and phrase.victim:
        kept = [c for c in found if LETTER[c.captured] == phrase.victim]
        found = kept or found
    return found


def _known(move: str, position: Position) -> Iterator[Choice]:
    """The one move a fact names (SAN or UCI), if it is legal here."""
    if not position.may_reach(*_named(move)):
        return  # at most nodes: no need to work out the legal moves
    try:
        yield position.choice(position.board.parse_san(move))
    except ValueError:
        if move in position.by_uci:
            yield position.by_uci[move]


def mirrored(move: Choice, position: Position) -> Iterator[Choice]:
    """What the other side has just done, done by this one: the same man to the same square of its own half."""
    targets = chess.BB_SQUARES[chess.square_mirror(move.target)]
    likely = [position.choice(same) for same in position.moves_to(move.piece, targets)]
    same = [choice for choice in likely if choice.source == chess.square_mirror(move.source)]
    yield from same or likely


@lru_cache(maxsize=256)
def _named(move: str) -> tuple[int, int]:
    """The man that a move in SAN or UCI names (0: any) and the squares it may go to."""
    found = _A_MOVE.match(move)
    if found is None:  # castling
        return 0, chess.BB_ALL
    letter, origin, target = found.groups()
    whole = len(origin) == 2  # where a man comes from tells which man it is
    return LETTER.index(letter or (" " if whole else "P")), chess.BB_SQUARES[chess.parse_square(target)]


def _by_kind(phrase: Phrase, position: Position, last_target: int, within: int) -> list[Choice]:
    kind = phrase.kind
    if kind == "square":
        return [position.choice(move) for move in position.moves_to(0, within)]
    if kind == "castle":
        castlings = position.castlings
        return [c for c in castlings if phrase.castle in ("any", c.castling)] or castlings
    if kind == "take":
        if phrase.recapture and not phrase.victim:
            again = [c for c in position.captures if c.target == last_target]
            if again:
                return again
        return position.captures
    if kind == "promote":
        promotions = [position.choice(m) for m in position.moves_to(chess.PAWN, chess.BB_RANK_1 | chess.BB_RANK_8)]
        return [c for c in promotions if c.promotion == _PROMOTES.get(phrase.promote, 5)]
    if kind == "check":
        return [c for c in position.choices if c.check]
    if kind == "block":  # a man between the king and the one that gives check
        quiet = (c for c in position.choices if c.piece != chess.KING and not c.captured)
        return list(quiet) if position.board.is_check() else []
    if not phrase.piece:  # an opening's name
        return []
    found = [position.choice(m) for m in position.moves_to(LETTER.index(phrase.piece), chess.BB_ALL)]
    return [c for c in found if _file_cost(phrase, c) < 3.0] if kind == "pawn" else found


def _file_cost(phrase: Phrase, choice: Choice) -> float:
    return phrase.ofiles[choice.source % 8] if phrase.ofiles else 0.0


def near_candidates(phrase: Phrase, position: Position, near: int, within: int) -> tuple[list[Choice], int]:
    """Of the moves a square names, those with little against them (to `near` squares, a bit set), and how many it may
    name in all (`within`); the latter only counted where no man is named."""
    if phrase.piece:
        return [position.choice(m) for m in position.moves_to(LETTER.index(phrase.piece), near)], 0
    moves = position.moves_to(0, within)
    return [position.choice(m) for m in moves if near >> m.to_square & 1], len(moves)


def squares_within(phrase: Phrase, cost: float, mute: bool = True) -> int:
    """The squares heard with no more than this against them, as a bit set; none where no square is named. `mute`: all
    files count where the file may have been swallowed."""
    if phrase.files is None or phrase.ranks is None:
        return 0
    found = 0
    files = (0.0,) * 8 if phrase.mute and mute else phrase.files
    for rank, r in enumerate(phrase.ranks):
        for file, f in enumerate(files):
            if f + r <= cost:
                found |= 1 << (rank * 8 + file)
    return found


def fit_features(phrase: Phrase, choice: Choice, last: tuple[Choice | None, Choice | None], rivals: int) -> Features:
    """Features of "this phrase names this move". `rivals` is how many moves the phrase could name here, `last` the
    move before and the one before that."""
    before, own = last
    last_target = before.target if before is not None and before.captured else -1
    out: Features = []
    kind = phrase.kind
    if phrase.files is not None and phrase.ranks is not None:
        files, ranks = phrase.files[choice.target % 8], phrase.ranks[choice.target // 8]
        if phrase.mute and choice.piece == chess.KNIGHT:
            files = 0.0
            out.append(("mute", 1.0))
        if files:
            out += [("file", min(files, _CLIP)), (f"file~{phrase.noise}", min(files, _CLIP))]
        if ranks:
            out.append(("rank", min(ranks, _CLIP)))
        if files + ranks < 0.01:
            out += [("exact", 1.0), (f"exact~{phrase.noise}", 1.0)]
    _piece_features(out, phrase, choice)
    if choice.captured:
        out.append(("take+" if phrase.take else "take-", 1.0))
        if not phrase.take:
            out.append((f"take-{'P' if choice.piece == 1 else 'N'}", 1.0))
    elif phrase.take:
        out.append(("take?", 1.0))
    if phrase.victim:
        out.append(("victim+" if LETTER[choice.captured] == phrase.victim else "victim-", 1.0))
    if kind in ("take", "check", "piece", "pawn", "block"):
        out.append((f"loose:{kind}", math.log(max(1, rivals))))
    _ending_features(out, phrase, choice)
    if choice.castling and phrase.castle == "any":
        out.append((f"castle:any:{choice.castling}", 1.0))
    if choice.castling and kind != "castle":
        out.append(("castle?", 1.0))
    if phrase.ofiles is not None:
        out.append(("ofile", min(phrase.ofiles[choice.source % 8], _CLIP)))
    if phrase.wing and (wing := _began(choice)):
        out.append(("wing+" if wing == phrase.wing else "wing-", 1.0))
    if phrase.origin is not None:
        cost = phrase.origin.files[choice.source % 8] + phrase.origin.ranks[choice.source // 8]
        out.append(("origin", min(cost, _CLIP)))
    if choice.captured and choice.target == last_target:
        out.append(("again+" if phrase.recapture or kind == "take" else "again", 1.0))
    elif phrase.recapture:
        out.append(("again?", 1.0))
    if kind == "take" and (checkers := choice.board.checkers_mask()):
        out.append(("takes:checker" if checkers >> choice.target & 1 else "takes:aside", 1.0))
    if phrase.step and choice.piece == 1:
        steps = abs(choice.target // 8 - choice.source // 8)
        out.append(("step+" if steps == phrase.step else "step-", 1.0))
    if choice.promotion:
        said = _PROMOTES.get(phrase.promote, 0)
        out.append(
            ("promote+" if said == choice.promotion or (not said and choice.promotion == 5) else "promote-", 1.0)
        )
    if phrase.back and choice.piece > 1:
        forward = (choice.target // 8 - choice.source // 8) * (1 if choice.board.turn else -1)
        out.append(("back-" if forward > 0 else "back+", 1.0))
    if choice.hang:
        out.append(("hang", min(choice.hang, 5.0)))
    if choice.captured and (kind == "take" or not phrase.piece):
        out.append(("gain", max(-5.0, min(5.0, choice.gain))))
        if kind == "take" and not phrase.piece and not phrase.victim:
            out.append(("gain:bare", max(-5.0, min(5.0, choice.gain))))
            if phrase.pair:
                answered = choice.board.is_attacked_by(not choice.board.turn, choice.target)
                out.append(("pair+" if answered else "pair-", 1.0))
    if rivals == 1 and kind == "square" and not phrase.piece:
        out.append(("single", 1.0))
    if not phrase.piece and choice.piece > 1 and kind in ("square", "take"):
        _it_features(out, phrase, choice, before, own)
    return out


def _began(choice: Choice) -> str:
    """The half of the board a bishop began on (its colour tells), or a knight or rook likely did: of two, the one
    farther that way; "" where nothing tells."""
    if choice.piece == chess.BISHOP:
        light = bool(chess.BB_LIGHT_SQUARES >> choice.source & 1)
        return "k" if light == choice.board.turn else "q"
    files = [square % 8 for square in choice.board.pieces(choice.piece, choice.board.turn)]
    if min(files) == max(files):
        return ""
    return "k" if choice.source % 8 == max(files) else "q" if choice.source % 8 == min(files) else ""


def _it_features(out: Features, phrase: Phrase, choice: Choice, before: Choice | None, own: Choice | None) -> None:
    """An unnamed man is mostly the one just talked of: the one that moved last, or the one just attacked."""
    name = "it:back" if phrase.back else "it"
    if own is not None and own.target == choice.source:
        out.append((name + ":last", 1.0))
        if own.source == choice.target:
            out.append((name + ":undo", 1.0))
    if before is not None:
        attacked = choice.board.attacks_mask(before.target) >> choice.source & 1
        if attacked:
            out.append((name + ":attacked", 1.0))


def _piece_features(out: Features, phrase: Phrase, choice: Choice) -> None:
    letter = LETTER[choice.piece]
    if phrase.kind in ("castle", "promote", "name", "known"):
        return
    if phrase.piece:
        out.append(("piece+" if letter == phrase.piece else f"piece-{letter}", 1.0))
        return
    if phrase.kind == "square":
        likely = ""
        if phrase.guess is not None:
            cost = phrase.guess[choice.piece] if choice.piece != 1 else min(phrase.guess[0], phrase.guess[1])
            out.append(("guess", min(cost, _CLIP)))
            likely = LETTER[phrase.guess.index(0.0)].strip()
        if likely and likely != "P":
            out.append(("soft+" if letter == likely else "soft-", 1.0))
        elif choice.piece == 1:
            out.append(("bare:P", 1.0))
        else:
            out.append(("bare:piece", 1.0))
            if phrase.check or phrase.take or phrase.person or phrase.mate:
                out.append(("bare:piece:verb", 1.0))


def _ending_features(out: Features, phrase: Phrase, choice: Choice) -> None:
    check = choice.check
    if phrase.mate:
        out.append(("mate+" if check == 2 else "mate-", 1.0))
    elif check == 2:
        out.append(("mate~", 1.0))
    if phrase.check:
        out.append(("check+" if check else "check-", 1.0))
    elif check == 1:
        out.append(("check~", 1.0))


def plausibility(position: Position, choice: Choice) -> Features:
    """How likely the move is before anything was heard: prepared by the teacher, known theory, or not."""
    out: Features = []
    if position.prepared is not None:
        out.append(("prepared+" if choice.uci in position.prepared else "prepared-", 1.0))
    known = position.known
    if known:
        count = known.get(choice.uci, 0)
        out += [("book+", 1.0), ("book", math.log(count / sum(known.values())))] if count else [("book-", 1.0)]
    return out
