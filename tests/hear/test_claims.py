"""Claims found in words: the rules test themselves; how often they are right on a board is in tests/check."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from lesson.hear.claims import Claim, find_claims
from lesson.hear.clauses import Man
from lesson.hear.grammar import load_grammar
from tests.decoded import words

PART = "en-claims"
RULES = load_grammar(PART).rules


def only(text: str) -> Claim:
    """The one claim of a sentence."""
    (claim,) = find_claims(text.split())
    return claim


def test_a_claim_says_who_does_what_to_whom() -> None:
    claim = only("So the bishop pins the knight on f6 to the queen, I think.")
    assert (claim.kind, claim.first, claim.last, claim.core) == ("pin", 2, 11, 3)
    assert claim.agents == (Man("B"),)
    assert claim.targets == (Man("N", "f6"),)
    assert claim.behind == (Man("Q"),)


def test_amounts_files_and_colours_are_read() -> None:
    ahead = only("White is two clean pawns up.")
    assert (ahead.kind, ahead.side, ahead.number, ahead.piece) == ("up", "w", 2, "P")
    doubled = only("Black has doubled pawns on the c-file.")
    assert (doubled.side, doubled.files) == ("b", ("c",))
    mate = only("It's mate in three.")
    assert (mate.kind, mate.number) == ("matein", 3)


def test_a_denial_is_kept() -> None:
    claim = only("The knight isn't pinned.")
    assert (claim.kind, claim.denied) == ("pinned", True)


@given(st.lists(words, max_size=12))
def test_any_words_give_claims_within_the_talk(texts: list[str]) -> None:
    mixed = [word for text in texts for word in (text, "the", "knight", "on", "f6", "is", "pinned,", "check")]
    for claim in find_claims(mixed):
        assert 0 <= claim.first <= claim.core < claim.last <= len(mixed)


def test_no_claim_without_words() -> None:
    assert find_claims([]) == []
