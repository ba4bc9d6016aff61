"""Joining a segment's text with the timed pieces a recogniser cut it into.

Pieces may carry leading spaces, may lack the punctuation of the text, may be parts of words ("Caro" "-Kann") or
hold several words. They are matched letter by letter, from both ends; where the letters differ in between, times
are left open.
"""

from __future__ import annotations

from collections.abc import Iterable

from lesson.model import Word
from lesson.read.draft import Flaws, quoted
from lesson.read.draft import tokens as split


def timed_tokens(text: str | None, pieces: list[Word], flaws: Flaws) -> list[Word]:
    """The whitespace-separated tokens of `text` with the times and the least probability of their pieces.

    Where the pieces hold more characters than the text, or there is no text, the pieces' own text is taken.
    """
    if text is not None and not pieces:
        return [Word(token) for token in split(text)]
    own = _joined(pieces)
    if text is None or _size(own) > _size(text):
        if text is not None and text.strip():
            flaws.add("a segment's words hold more than its text; the words were kept", quoted(own.strip()))
        text = own
    tokens = split(text)
    if [piece.text.strip() for piece in pieces] == tokens:
        return [
            Word(token, piece.start_ms, piece.end_ms, piece.probability)
            for token, piece in zip(tokens, pieces, strict=True)
        ]
    return _matched(tokens, pieces, flaws)


def _joined(pieces: list[Word]) -> str:
    """Pieces that carry their own spaces are joined as they are, others with a space between."""
    spaced = any(piece.text[:1].isspace() for piece in pieces[1:])
    return ("" if spaced else " ").join(piece.text for piece in pieces)


def _size(text: str) -> int:
    return sum(len(part) for part in text.split())


def _matched(tokens: list[str], pieces: list[Word], flaws: Flaws) -> list[Word]:
    letters, token_of = _letters(tokens)
    heard, piece_of = _letters(piece.text for piece in pieces)
    ahead = _common(letters, heard)
    behind = 0
    if letters != heard:
        room = min(len(letters), len(heard)) - ahead
        behind = min(room, _common(letters[::-1], heard[::-1]))
        flaws.add("a segment's text and words differ; the text was kept", quoted(" ".join(tokens)))
    spans: list[list[int]] = [[] for _ in tokens]
    for at, token in enumerate(token_of):
        if at < ahead:
            spans[token].append(at)
        elif at >= len(letters) - behind:
            spans[token].append(at - len(letters) + len(heard))
    return [_token(token, span, pieces, piece_of) for token, span in zip(tokens, spans, strict=True)]


def _token(text: str, heard: list[int], pieces: list[Word], piece_of: list[int]) -> Word:
    """`heard` are the positions, among the pieces' letters, that the token's letters were matched with."""
    if not heard:
        return Word(text)
    first, last = heard[0], heard[-1]
    opens = first == 0 or piece_of[first - 1] != piece_of[first]
    closes = last + 1 == len(piece_of) or piece_of[last + 1] != piece_of[last]
    chances = [
        chance for at in dict.fromkeys(piece_of[h] for h in heard) if (chance := pieces[at].probability) is not None
    ]
    return Word(
        text,
        pieces[piece_of[first]].start_ms if opens else None,
        pieces[piece_of[last]].end_ms if closes else None,
        min(chances, default=None),
    )


def _letters(parts: Iterable[str]) -> tuple[str, list[int]]:
    """All letters and digits in one case, and for each the index of the part it comes from."""
    letters: list[str] = []
    owner: list[int] = []
    for at, part in enumerate(parts):
        kept = [c for c in part.casefold() if c.isalnum()]
        letters += kept
        owner += [at] * len(kept)
    return "".join(letters), owner


def _common(a: str, b: str) -> int:
    """Length of the common beginning."""
    if a == b:
        return len(a)
    return next((at for at, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
