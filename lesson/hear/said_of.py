"""What is said of a move right behind it: claims that a board may bear out. Knows no board."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace

from lesson.hear.claims import find_claims
from lesson.hear.dictation import Dictation
from lesson.hear.idle import OF_MEN
from lesson.hear.phrase import Phrase

# What a board cannot say of one move by itself, or only after a long search.
_OF_MORE = frozenset(("opening", "matein", "only", "onlylegal", "uncastled", "cannotcastle"))
# How many words behind a phrase a claim may begin that is about its move. Set by hand.
_NEAR = 12


def with_claims(items: Sequence[Phrase | Dictation], words: Sequence[str]) -> list[Phrase | Dictation]:
    """The same items, each phrase with the claims that may be about its move: those for which it is the last phrase
    before the words they turn on ("knight c7, forking king and rook") or, where these are said of a man, before the man
    ("bishop g5, and the knight is pinned").

    Raises: DataError if the grammar of claims is missing or broken.
    """
    found = list(items)
    begins, ends = [item.first for item in items], [item.last for item in items]
    for claim in find_claims(words):
        of_man = claim.kind in OF_MEN
        begin = claim.first if of_man else claim.core
        at = bisect_right(ends if of_man else begins, begin) - 1
        item = found[at] if at >= 0 else None
        if isinstance(item, Phrase) and begin - item.last <= _NEAR and claim.kind not in _OF_MORE:
            told = (claim.kind == "check" and item.check) or (claim.kind == "mate" and item.mate)
            if not told:
                found[at] = replace(item, claims=(*item.claims, claim))
    return found
