"""Words of the talk -> tokens the grammar and the ear work on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

NUMBER_WORDS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8"}

_UP_TO_NINETEEN = """one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen
    seventeen eighteen nineteen"""
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety"
COUNTING = {word: number for number, word in enumerate(_UP_TO_NINETEEN.split(), 1)}
COUNTING |= {word: 10 * number for number, word in enumerate(_TENS.split(), 2)}
"""Numbers spoken as one word."""

_SAN = re.compile(r"^([NBRQK])([a-h]?[1-8]?)(x?)([a-h][1-8])(?:=?([QRBN]))?([+#]?)$")
_PAWN_SAN = re.compile(r"^([a-h])x([a-h][1-8])(?:=?([QRBN]))?([+#]?)$")
# "bg4", "qxd8": where a recogniser writes no capitals; a b before a capture is a pawn's file as often as a bishop
_SMALL_SAN = re.compile(r"^(?:([nrqk])(x?)|(b)())([a-h][1-8])([+#]?)$")
# "DxC4", "txc2", "puntakes", "detakes": a capture run together by the recogniser
_HEARD_TAKES = re.compile(r"^([a-z]|pn|pun|pon|pan|de|see|gee|be|ef|e|ge)(?:x(?=[a-z][1-8]$)|-?takes?$)([a-z][1-8])?$")
_PIECE_WORD = {"N": "knight", "B": "bishop", "R": "rook", "Q": "queen", "K": "king"}
_PART = re.compile(r"[a-z]+(?:'[a-z]+)?|\d")
# "c-6-bishop": where the recogniser writes squares so, a hyphen after the digit parts two moves as a comma would
_HYPHENED = re.compile(r"(?<![^\W_])[a-z]-[1-8]-")
# Written with a capital only where a sentence begins; some recognisers put no stop before it.
_BEGINNERS = frozenset((
    "He", "She", "It", "They", "We", "You", "This", "That", "These", "The", "And", "But", "So", "Or", "If", "When",
    "After", "Because", "Then", "Now", "Here", "There", "What", "Why", "My", "His", "Her", "Our", "Your", "On", "In",
    "At", "Not", "No", "Yes",
))  # fmt: skip
# "took with the H1": "pawn" is often written as "1" behind a file's letter. Nobody says "the" before a bare square.
_MEN_OF_SQUARES = frozenset((
    "knight", "night", "horse", "bishop", "rook", "rock", "queen", "king", "pawn", "square", "corner", "diagonal",
))  # fmt: skip
_EDGE = re.compile(r"^[^\w+#]+|[^\w+#]+$")


@dataclass(frozen=True, slots=True)
class Token:
    """A lower-case piece of a word: letters (with an inner apostrophe) or one digit.

    `word` indexes the talk's words; `glued` says that it follows the token before inside the same word ("f" "6" of
    "F6"); `stop` is what ends after it: 0 nothing, 1 a comma or dash, 2 a sentence; `opens` says that a sentence
    starts here; `asks` that a question ends here; `probability` is the recogniser's for the word, 1.0 where it
    gave none.
    """

    text: str
    word: int
    glued: bool = False
    stop: int = 0
    opens: bool = False
    probability: float = 1.0
    asks: bool = False


def split_word(word: str) -> list[str]:
    """The token texts of one word; written SAN is spelled out ("Nxe5+" -> knight takes e 5 check)."""
    bare = _EDGE.sub("", word)
    if match := _SAN.match(bare):
        piece, origin, takes, square, promotion, ending = match.groups()
        return [_PIECE_WORD[piece], *origin, *_said(takes, square, promotion, ending)]
    if match := _PAWN_SAN.match(bare):
        file, square, promotion, ending = match.groups()
        return [file, *_said("x", square, promotion, ending)]
    if match := _SMALL_SAN.match(bare):
        other, takes, bishop, _, square, ending = match.groups()
        return [_PIECE_WORD[(other or bishop).upper()], *_said(takes, square, None, ending)]
    castling = re.sub(r"[^0o-]", "", bare.lower())
    if castling in ("o-o", "0-0", "o-o-o", "0-0-0") and len(castling) == len(bare.rstrip("+#")):
        return ["castles", "long"] if len(castling) == 5 else ["castles", "short"]
    if match := _HEARD_TAKES.match(bare.lower()):
        before, square = match.groups()
        return [
            *({"pn": ["pawn"], "pun": ["pawn"], "pon": ["pawn"], "pan": ["pawn"]}.get(before, [before])),
            "takes",
            *(square or ""),
        ]
    return _PART.findall(word.lower().replace("\u2019", "'"))


def _said(takes: str | None, square: str, promotion: str | None, ending: str | None) -> list[str]:
    out = (["takes"] if takes else []) + list(square)
    if promotion:
        out += ["promotes", "to", _PIECE_WORD[promotion]]
    return out + {"+": ["check"], "#": ["mate"], "": [], None: []}[ending]


def tokenise(words: Sequence[str], probabilities: Sequence[float | None] | None = None) -> list[Token]:
    """All tokens of the talk in order. A word without letters or digits yields none (it stays in the talk)."""
    out: list[Token] = []
    opens = True
    for index, word in enumerate(words):
        parts = split_word(word)
        stop = (
            2 if re.search(r"[.?!;:]['\")\u201d]*$", word) else 1 if re.search(r"[,\u2013\u2014)-]['\"]*$", word) else 0
        )
        probability = 1.0
        if probabilities is not None and (given := probabilities[index]) is not None:
            probability = given
        if out and not out[-1].stop and parts and _EDGE.sub("", word) in _BEGINNERS:
            out[-1], opens = replace(out[-1], stop=2), True
        hyphened = bool(_HYPHENED.search(word.lower()))
        for k, part in enumerate(parts):
            last = k == len(parts) - 1
            asks = last and "?" in word
            after = stop if last else int(hyphened and part.isdigit())
            out.append(Token(part, index, k > 0, after, opens, probability, asks))
            opens = False
        if stop == 2:
            opens = True
        elif not parts and stop and out:
            tail = out[-1]
            out[-1] = Token(
                tail.text, tail.word, tail.glued, max(stop, tail.stop), tail.opens, tail.probability, tail.asks
            )
    return _with_pawns(out)


def _with_pawns(tokens: list[Token]) -> list[Token]:
    """The tokens with "the H1" read as "the h-pawn", unless it is the man or the corner of that square."""
    for k in range(1, len(tokens) - 1):
        file, one = tokens[k], tokens[k + 1]
        written = one.text == "1" and one.glued and file.text in tuple("abcdefgh")
        if not written or tokens[k - 1].text != "the" or tokens[k - 1].stop:
            continue
        follows = tokens[k + 2].text if k + 2 < len(tokens) and not one.stop else ""
        if follows not in _MEN_OF_SQUARES and not follows.isdigit():
            tokens[k + 1] = replace(one, text="pawn", glued=False)
    return tokens


_CLAUSE_OPENERS = frozenset(
    ("and", "then", "but", "so", "because", "if", "when", "now", "while", "which", "or", "though")
)
FEWEST_STOPS = 0.02
"""Share of tokens before a comma or stop below which a transcript counts as written without them."""


def with_breaks(tokens: Sequence[Token]) -> tuple[list[Token], bool]:
    """The tokens, and whether the transcript has no stops; if so the words that open a clause stand in for commas."""
    stops = sum(t.stop > 0 for t in tokens)
    if len(tokens) < 20 or stops >= FEWEST_STOPS * len(tokens):
        return list(tokens), False
    out = list(tokens)
    for i in range(len(out) - 1):
        if out[i + 1].text in _CLAUSE_OPENERS and not out[i].stop:
            out[i] = replace(out[i], stop=1)
    return out, True


@lru_cache(maxsize=2)
def sentences(words: tuple[str, ...]) -> tuple[int, ...]:
    """The number of each word's sentence; kept for the talk at hand, which is asked about again and again."""
    ends = {token.word for token in tokenise(words) if token.stop == 2}
    out: list[int] = []
    number = 0
    for index in range(len(words)):
        out.append(number)
        number += index in ends
    return tuple(out)
