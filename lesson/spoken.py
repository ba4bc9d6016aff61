"""How a move is said, and which misheard words of a phrase a comment may mend.

Mending is cautious, because a comment must not lose what was said: only a square or a piece that was plainly meant is
put right, in place, and every other word stands.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise

_PIECES = {"K": "king", "Q": "queen", "R": "rook", "B": "bishop", "N": "knight"}
_SAN = re.compile(r"([KQRBN]?)([a-h]?[1-8]?)(x?)([a-h][1-8])(?:=([QRBN]))?[+#]?")

# Words of the same sound, from the CMU Pronouncing Dictionary; "rock" and "root" are near misses met in captions.
_PIECE_SOUNDS = {"night": "knight", "nite": "knight", "knite": "knight", "rock": "rook", "root": "rook", "ruck": "rook"}
_FILE_SOUNDS = {
    "a": ("a", "ay"),
    "b": ("b", "be", "bee"),
    "c": ("c", "see", "sea"),
    "d": ("d", "de", "dee"),
    "e": ("e", "ee"),
    "f": ("f", "ef"),
    "g": ("g", "gee", "jee"),
    "h": ("h", "aitch"),
}
_RANK_SOUNDS = {
    "1": ("1", "one", "won"),
    "2": ("2", "two", "to", "too"),
    "3": ("3", "three"),
    "4": ("4", "four", "for", "fore"),
    "5": ("5", "five"),
    "6": ("6", "six"),
    "7": ("7", "seven"),
    "8": ("8", "eight", "ate"),
}
_PLAIN_RANKS = {sound: rank for rank, (_, sound, *_rest) in _RANK_SOUNDS.items()}
_SHORT = 4
"""A phrase of at most so many words that names the rank and nothing else of use is replaced as a whole."""


def spoken_form(san: str) -> str:
    """`san` as a speaker says it, in lower case: "knight f3", "d takes c4", "castles", "e8 queen".

    Check and mate are left out. Text that is not SAN comes back as it is.
    """
    if san.startswith("O-O"):
        return "castles long" if san.startswith("O-O-O") else "castles"
    match = _SAN.fullmatch(san)
    if match is None:
        return san
    piece, origin, takes, square, promotion = match.groups()
    said = [_PIECES.get(piece, ""), origin, "takes" if takes else "", square, _PIECES.get(promotion or "", "")]
    return " ".join(word for word in said if word)


def mended(words: Sequence[str], moves: Mapping[str, str]) -> list[str]:
    """The words of a phrase that means `moves` (UCI -> SAN), with misheard chess words put right.

    The list is as long as `words`; a word swallowed by a replacement before it is "". A phrase that means several
    moves has only its pieces mended, because its squares could belong to any of them.
    """
    pieces = {_PIECES[san[0]] for san in moves.values() if san[:1] in _PIECES}
    out = [_mend_piece(word, pieces) for word in words]
    if len(moves) != 1:
        return out
    ((uci, san),) = moves.items()
    if san.startswith("O-O"):
        return out
    origin, target = uci[:2], uci[2:4]
    bare = [_core(word) for word in words]
    if target in _squares(bare):
        return out
    slips = [i for i, core in enumerate(bare) if re.fullmatch(r"[a-z]\d", core) and core != origin]
    if slips:
        return _put(out, slips[0], slips[0] + 1, target) if len(slips) == 1 else out
    if found := _homophone(bare, target):
        return _put(out, *found, target)
    if len(words) <= _SHORT and target[1] in bare:
        return _put(out, 0, len(words), spoken_form(san))
    return out


def _core(word: str) -> str:
    return re.sub(r"^\W+|\W+$", "", word).lower()


def _mend_piece(word: str, pieces: Collection[str]) -> str:
    core = _core(word)
    piece = _PIECE_SOUNDS.get(core)
    if piece is None or piece not in pieces:
        return word
    return _dress(word, word, piece if core in word else piece.capitalize())


def _squares(bare: Sequence[str]) -> set[str]:
    """Squares that stand in the phrase as written: "f3", "Nxf3+", "e7e5", "f 3", "f three"."""
    found = {square for core in bare for square in re.findall(r"[a-h][1-8]", core)}
    for file, rank in pairwise(bare):
        if re.fullmatch(r"[a-h]", file[-1:]) and (len(file) == 1 or file[-2:-1] in "-x"):
            found.add(file[-1] + _PLAIN_RANKS.get(rank, rank))
    return found


def _homophone(bare: Sequence[str], square: str) -> tuple[int, int] | None:
    """The words [first, last), one or two, that together sound like `square`: "before", "see for"."""
    sounds = {file + rank for file in _FILE_SOUNDS[square[0]] for rank in _RANK_SOUNDS[square[1]]}
    for length in (1, 2):
        for first in range(len(bare) - length + 1):
            if "".join(bare[first : first + length]) in sounds:
                return first, first + length
    return None


def _put(words: Sequence[str], first: int, last: int, text: str) -> list[str]:
    return [*words[:first], _dress(words[first], words[last - 1], text), *[""] * (last - first - 1), *words[last:]]


def _dress(opening: str, closing: str, text: str) -> str:
    """`text` between the punctuation before `opening` and the punctuation after `closing`."""
    before = re.match(r"\W*", opening)
    after = re.search(r"\W*$", closing)
    return (before.group() if before else "") + text + (after.group() if after else "")
