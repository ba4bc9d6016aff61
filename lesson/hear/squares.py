"""Squares, and bits of squares, in a row of tokens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from lesson.hear.phonemes import phonemes, sound_distance
from lesson.hear.sounds import COMMON, DIGIT_WORDS, FILES, LETTER_WORDS, RANKS, SQUARE_WORDS, SURE_DIGITS, Costs, Sounds
from lesson.hear.tokens import Token

UNKNOWN: Costs = (2.1,) * 8
FLAT: Costs = (0.0,) * 8
_LETTER_LIMIT, _PIECE_LIMIT = 0.95, 1.0
_NEVER = frozenset(
    [
        "the",
        "and",
        "on",
        "in",
        "at",
        "to",
        "of",
        "or",
        "by",
        "is",
        "it",
        "his",
        "her",
        "my",
        "our",
        "your",
        "this",
        "that",
        "move",
        "moves",
        "line",
        "plan",
        "number",
        "page",
        "part",
        "only",
        "just",
        "about",
        "takes",
        "take",
        "pawn",
        "king",
        "queen",
        "rook",
        "bishop",
        "knight",
        "check",
        "night",
        "a",
        "an",
        "all",
        "last",
        "first",
        "next",
        "these",
        "those",
        "has",
        "than",
        "then",
        "with",
        "from",
        "for",
        "as",
        "up",
        "no",
        "not",
        "but",
        "if",
        "are",
        "was",
        "were",
        "he",
        "she",
        "we",
        "they",
        "you",
        "me",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
    ]
)
_ARTICLES = {"a", "i"}
MOVERS = {"knight", "knights", "night", "rook", "rock", "horse", "i'd", "i", "9", "height"}
_GLUED_PIECES = {"n": "N", "r": "R", "q": "Q", "k": "K"}


@dataclass(frozen=True, slots=True)
class Square:
    """A square heard at tokens [first, last): a cost for each file and each rank.

    `cost` is what it costs to take these words for a square at all. `origin` holds the file costs of a letter right
    before it in the same breath ("b d7": the b-file, d7), `piece` a piece run together with it ("nc3", "rookie 1").
    `form` says how it was heard: "full" letter and digit,
    "soft" through a homophone, "word" as a whole word, "rank" only the digit, "digits" two digits.
    """

    first: int
    last: int
    files: Costs
    ranks: Costs
    cost: float = 0.0
    form: str = "full"
    origin: Costs | None = None
    piece: str = ""


def _digit(token: Token) -> tuple[str, float] | None:
    text = token.text
    if text.isdigit():
        return (text, 0.0)
    if text in DIGIT_WORDS:
        return (DIGIT_WORDS[text], 0.2 if text in SURE_DIGITS else 2.0)
    return None


@lru_cache(maxsize=8192)
def spoken_letter(word: str) -> tuple[Costs, str, float] | None:
    """What letter name (or piece and letter name) a word before a number sounds like: file costs, piece, doubt.

    None for a word that sounds like neither, and for the words of the grammar. The factor from distance to cost and
    the limits were set by hand on made-up words.
    """
    if not word.isalpha() or not 2 <= len(word) <= 7 or word in _NEVER:
        return None
    best: tuple[float, str] | None = None
    table: dict[str, list[float]] = {}
    for piece, names in _letter_names().items():
        if piece and len(word) < 4:
            continue
        table[piece] = [min(sound_distance(a, b) for a in phonemes(word) for b in name) for name in names]
        near = min(table[piece])
        if best is None or near < best[0]:
            best = (near, piece)
    if best is None or best[0] > (_LETTER_LIMIT if not best[1] else _PIECE_LIMIT):
        return None
    distances = table[best[1]]
    return tuple(min(7.0, 3.0 * (d - best[0])) for d in distances), best[1], 1.5 * best[0]


@lru_cache(maxsize=1)
def _letter_names() -> dict[str, list[tuple[str, ...]]]:
    letters = [phonemes(f) for f in FILES]
    out = {"": letters}
    for piece, word in (("N", "knight"), ("B", "bishop"), ("R", "rook"), ("Q", "queen"), ("K", "king")):
        out[piece] = [tuple(f"{a} {b}" for a in phonemes(word) for b in names) for names in letters]
    return out


def _whole_word(costs: dict[str, float]) -> tuple[Costs, Costs, float]:
    floor = min(costs.values())
    files = [6.0] * 8
    ranks = [6.0] * 8
    for square, cost in costs.items():
        f, r = FILES.index(square[0]), RANKS.index(square[1])
        files[f] = min(files[f], cost - floor)
        ranks[r] = min(ranks[r], cost - floor)
    return tuple(files), tuple(ranks), floor


def _single(token: Token) -> bool:
    return len(token.text) == 1 and token.text.isalpha()


def _at(tokens: Sequence[Token], i: int, sounds: Sounds) -> Square | None:
    token = tokens[i]
    after = tokens[i + 1] if i + 1 < len(tokens) and token.stop < 2 else None
    digit = _digit(after) if after is not None else None
    moved = i > 0 and tokens[i - 1].text in MOVERS and not tokens[i - 1].stop
    if after is not None and digit is not None and not (after.text.isdigit() and _long_number(tokens, i + 1)):
        rank, cost = digit
        if _single(token):
            if cost >= 2.0 and (token.text in _ARTICLES or token.text not in FILES):
                return None
            if not after.glued and token.text in _ARTICLES and cost:
                cost += 1.0
            return Square(i, i + 2, sounds.file_costs(token.text), sounds.rank_costs(rank), cost)
        if (
            not _single(token)
            and token.text not in LETTER_WORDS
            and cost < 2.0
            and rank in RANKS
            and (heard := spoken_letter(token.text))
        ):
            files, piece, doubt = heard
            if cost and not (moved or piece):
                return None
            return Square(i, i + 2, files, sounds.rank_costs(rank), 1.2 + doubt + 2 * cost, "soft", None, piece)
        alone = after.stop > 0 and (i == 0 or tokens[i - 1].stop > 0)  # ", be five,"
        if token.text in LETTER_WORDS and (
            cost == 0.0 or (cost < 2.0 and (moved or alone or token.text not in COMMON))
        ):
            counted = sounds.letters.get(token.text)
            files = sounds.file_costs(token.text) if counted else sounds.file_costs(LETTER_WORDS[token.text])
            return Square(i, i + 2, files, sounds.rank_costs(rank), cost + 1.5, "soft")
    if after is not None and (rank := _small_rank(tokens, i + 1)) and (heard := spoken_letter(token.text)) and heard[1]:
        files, piece, doubt = heard
        return Square(i, i + 2, files, sounds.rank_costs(rank), 1.2 + doubt, "soft", None, piece)
    if costs := sounds.square_costs(token.text):
        files, ranks, cost = _whole_word(costs)
        if token.text in SQUARE_WORDS:
            square = SQUARE_WORDS[token.text]
            files, ranks = sounds.file_costs(square[0]), sounds.rank_costs(square[1])
        counts = sounds.squares.get(token.text, {"": 3.0})
        common, total = counts.get("", 0.0), sum(counts.values())
        penalty = 0.5 + 3.0 * common / max(1.0, total)
        return Square(i, i + 1, files, ranks, cost * 0.3 + penalty, "word")
    if token.text.isdigit() and not token.glued and not _long_number(tokens, i):
        if after is not None and after.glued and after.text.isdigit():
            counted = sounds.letters.get(token.text)
            files = sounds.file_costs(token.text) if counted or token.text in "83" else UNKNOWN
            return Square(i, i + 2, files, sounds.rank_costs(after.text), 1.0, "digits")
        if token.text in RANKS:
            return Square(i, i + 1, UNKNOWN, sounds.rank_costs(token.text), 2.0, "rank")
    if moved and token.stop and token.text in SURE_DIGITS:  # "knight three,": the file was swallowed
        return Square(i, i + 1, UNKNOWN, sounds.rank_costs(DIGIT_WORDS[token.text]), 2.5, "rank")
    return None


def _small_rank(tokens: Sequence[Token], i: int) -> str:
    """The rank that a small word before a stop or "check" stands for: "rookie to check", "ricky i,"."""
    ends = tokens[i].stop > 0 or (i + 1 < len(tokens) and tokens[i + 1].text in ("check", "mate"))
    return {"to": "2", "too": "2", "i": "1"}.get(tokens[i].text, "") if ends else ""


def _long_number(tokens: Sequence[Token], i: int) -> bool:
    """Three digits and more in one word, or a digit glued into a longer word: a year, a date, a version."""
    first = i
    while first > 0 and tokens[first].glued and tokens[first - 1].text.isdigit():
        first -= 1
    last = i + 1
    while last < len(tokens) and tokens[last].glued and tokens[last].text.isdigit():
        last += 1
    lettered = first > 0 and tokens[first].glued and tokens[first - 1].text.isalpha()
    return last - first > (1 if lettered else 2)


def _glued_letters(token: Token, after: Token | None) -> str:
    """Two letters run together before a digit ("bd7", "fd7"): the first is a file of origin."""
    if after is None or not (after.glued and after.text.isdigit()) or len(token.text) != 2:
        return ""
    return token.text if token.text.isalpha() and (token.text[0] in FILES or token.text[0] in _GLUED_PIECES) else ""


def _two_ranks(tokens: Sequence[Token], i: int, sounds: Sounds) -> list[Square]:
    """ "E45": e4, and then a five whose file was swallowed, most likely the same one."""
    if not _single(tokens[i]) or i + 2 >= len(tokens):
        return []
    first, second = tokens[i + 1], tokens[i + 2]
    more = i + 3 < len(tokens) and tokens[i + 3].glued
    if not (first.glued and second.glued and first.text in RANKS and second.text in RANKS) or more:
        return []
    files = sounds.file_costs(tokens[i].text)
    same = tuple(min(cost + 0.5, 2.1) for cost in files)
    return [
        Square(i, i + 2, files, sounds.rank_costs(first.text), 0.3),
        Square(i + 2, i + 3, same, sounds.rank_costs(second.text), 0.5),
    ]


def _file_to(tokens: Sequence[Token], i: int) -> bool:
    """ "c to e7": the letter is a file of origin, the "to" no number."""
    return (
        _single(tokens[i])
        and i + 3 < len(tokens)
        and tokens[i + 1].text in ("to", "too", "2", "two")
        and (tokens[i + 1].text in ("to", "too") or (i > 0 and tokens[i - 1].text in MOVERS))
        and _single(tokens[i + 2])
        and _digit(tokens[i + 3]) is not None
        and max(t.stop for t in tokens[i : i + 3]) == 0
    )


def find_squares(tokens: Sequence[Token], sounds: Sounds) -> list[Square]:
    """All squares of the talk, left to right, not overlapping."""
    out: list[Square] = []
    i = 0
    while i < len(tokens):
        if _file_to(tokens, i):
            i += 2
            continue
        after = tokens[i + 1] if i + 1 < len(tokens) else None
        pair = _glued_letters(tokens[i], after)
        if pair and after is not None:
            piece = _GLUED_PIECES.get(pair[0], "")
            origin = None if piece else sounds.file_costs(pair[0])
            files, ranks = sounds.file_costs(pair[1]), sounds.rank_costs(after.text)
            out.append(Square(i, i + 2, files, ranks, 0.3, "full", origin, piece))
            i += 2
            continue
        if two := _two_ranks(tokens, i, sounds):
            out += two
            i = two[-1].last
            continue
        found = _at(tokens, i, sounds)
        if found is None:
            i += 1
            continue
        out.append(found)
        i = found.last
    return out
