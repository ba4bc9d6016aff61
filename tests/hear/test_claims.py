"""Claims found in words: the rules test themselves; how often they are right on a board is in tests/check."""

from __future__ import annotations

import pytest
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


def test_it_stands_for_the_one_man_that_was_named() -> None:
    assert only("The knight on d4 can't move, so it's undefended.").targets == (Man("N", "d4"),)
    kinds = [
        (claim.kind, claim.targets)
        for claim in find_claims(["The", "knight's", "attacked", "twice", "and", "defended", "once."])
    ]
    assert kinds == [("attacked", (Man("N"),)), ("defended", (Man("N"),))]
    assert find_claims(["The", "knight", "eyes", "the", "rook,", "and", "it's", "undefended."])[1:] == []


@pytest.mark.parametrize(
    ("text", "kinds"),
    [
        # A word the grammar does not know makes it another thing; an adverb or an adjective of a man does not.
        ("The rook is plainly hanging.", ["hanging"]),
        ("The brave knight is pinned.", ["pinned"]),
        ("The rook is hanging wallpaper.", []),
        # Once a sentence speaks of wishes, of then or of others, it claims nothing; behind "but" it may.
        ("It was long ago, and the knight is pinned.", []),
        ("Everybody thought so, the knight is pinned.", []),
        ("It was not so, but the knight is pinned.", ["pinned"]),
        # A story or a supposition goes on into the next sentence.
        ("Say the bishop takes. Then the c-pawns are doubled.", []),
        ("It was the last round. White is a rook up.", []),
        # Whose word it is may stand behind a comma.
        ("It's mate, says the porter.", []),
        ("It's mate, I think.", ["mate"]),
        ("White is a queen up for a bishop.", []),
    ],
)
def test_what_is_said_beside_a_claim_may_make_it_none(text: str, kinds: list[str]) -> None:
    assert [claim.kind for claim in find_claims(text.split())] == kinds


def test_a_tag_asks_nothing_and_a_supposition_holds_for_its_sentence() -> None:
    assert only("The knight is pinned, isn't it?").kind == "pinned"
    assert find_claims(["Isn't", "the", "knight", "pinned?"]) == []
    supposed = ["If", "he", "takes,", "then", "queen", "h5", "comes,", "and", "it's", "mate."]
    assert find_claims(supposed) == []
    (claim,) = find_claims(supposed, supposed=True)
    assert (claim.kind, claim.supposed) == ("mate", 0)
    assert only("If you look closely, the knight is pinned.").supposed == -1


@given(st.lists(words, max_size=12))
def test_any_words_give_claims_within_the_talk(texts: list[str]) -> None:
    mixed = [word for text in texts for word in (text, "the", "knight", "on", "f6", "is", "pinned,", "check")]
    for claim in find_claims(mixed):
        assert 0 <= claim.first <= claim.core < claim.last <= len(mixed)


def test_no_claim_without_words() -> None:
    assert find_claims([]) == []
