"""Counting what recognisers made of letters, numbers and piece words -> shared/sounds.json."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable

from lesson.hear.sounds import FILES, Sounds
from lesson.hear.tokens import split_word
from lesson.learn.marked import Marked

Table = dict[str, dict[str, float]]
_SQUARE = re.compile(r"^([a-h])([1-8])$")
_PIECES = {"knight": "N", "bishop": "B", "rook": "R", "queen": "Q", "king": "K", "pawn": "P"}


def count_sounds(talks: Iterable[Marked]) -> Sounds:
    """Confusions counted over transcripts aligned with the true words."""
    letters: Table = defaultdict(lambda: defaultdict(float))
    digits: Table = defaultdict(lambda: defaultdict(float))
    squares: Table = defaultdict(lambda: defaultdict(float))
    before: Table = defaultdict(lambda: defaultdict(float))
    for marked in talks:
        if marked.version == "exact":
            continue  # nothing was misheard there, and it would water the counts down
        heard = [w.text for w in marked.talk.words]
        for index, (word, (first, last)) in enumerate(zip(marked.true_words, marked.ranges, strict=True)):
            true = re.sub(r"\W", "", word.lower())
            got = [t for w in heard[first:last] for t in split_word(w)]
            if match := _SQUARE.match(true):
                piece = _piece_before(marked.true_words, index)
                lead = split_word(heard[first - 1])[-1:] if first else []
                _count_square(match, got, piece, lead, letters, digits, squares, before)
            elif len(got) == 1 and last - first == 1 and not got[0].isdigit():
                squares[got[0]][""] += 1.0
    kept = {w: dict(c) for w, c in squares.items() if _mostly_square(w, c)}
    return Sounds(_plain(letters), _plain(digits), kept, _plain({k: v for k, v in before.items() if any(v)}))


def _mostly_square(word: str, counts: dict[str, float]) -> bool:
    """Short and everyday words stay words, however often a recogniser wrote them for a square."""
    named = sum(n for square, n in counts.items() if square)
    return len(word) >= 4 and named >= 2 and named >= 0.4 * sum(counts.values())


def _piece_before(words: tuple[str, ...], index: int) -> str:
    if index == 0 or words[index - 1].endswith((",", ".", ";", ":")):
        return ""
    return _PIECES.get(re.sub(r"\W", "", words[index - 1].lower()), "")


def _count_square(
    match: re.Match[str],
    got: list[str],
    piece: str,
    lead: list[str],
    letters: Table,
    digits: Table,
    squares: Table,
    before: Table,
) -> None:
    file, rank = match.groups()
    if len(got) >= 2 and got[-1].isdigit() and (len(got[-2]) == 1 or got[-2].isdigit() or len(got) == 2):
        letters[got[-2]][file] += 1.0
        digits[got[-1]][rank] += 1.0
        heard_before = got[-3] if len(got) > 2 else (lead[0] if lead else "")
        if piece and got[-2] in FILES + "i" and heard_before:
            before[heard_before][piece] += 1.0
        elif heard_before:
            before[heard_before][""] += 1.0
        before["@" + got[-2]][piece] += 1.0
    elif len(got) == 1 and got[0].isalpha() and len(got[0]) > 1:
        squares[got[0]][file + rank] += 1.0
    elif len(got) == 1 and got[0].isdigit():
        digits[got[0]][rank] += 1.0


def _plain(table: Table) -> Table:
    return {key: dict(value) for key, value in table.items()}
