"""Which phrase a claim is about."""

from __future__ import annotations

import pytest

from lesson.hear import hear_talk
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import load_sounds
from tests.decode.test_decode import talk_of


def _claims(text: str) -> list[tuple[str, list[str]]]:
    talk = talk_of(text)
    words = [word.text for word in talk.words]
    heard = [item for item in hear_talk(talk, load_sounds()) if isinstance(item, Phrase)]
    return [(" ".join(words[p.first : p.last]), [c.kind for c in p.claims]) for p in heard if p.claims]


@pytest.mark.parametrize(
    ("text", "words", "kind"),
    [
        ("Knight takes c7, forking king and rook.", "Knight takes c7,", "fork"),
        ("Bishop g5, and the knight is pinned.", "Bishop g5,", "pinned"),
        ("Then rook d1. It attacks the queen on d8.", "rook d1.", "attacks"),
    ],
)
def test_a_claim_goes_to_the_move_before_it(text: str, words: str, kind: str) -> None:
    assert (words, [kind]) in [(said.removeprefix("Then "), kinds) for said, kinds in _claims(text)]


@pytest.mark.parametrize(
    "text",
    [
        "Forking king and rook is what knights do. Knight c7.",  # nothing was told before it
        "Knight c7, and if he is careless it will fork king and rook.",  # supposed
        "Queen h5 check.",  # the phrase says so itself
        "Knight c7. " + "We had tea and spoke about the weather for a while. " * 2 + "It attacks the rook.",  # too far
    ],
)
def test_no_claim_is_made_of_other_talk(text: str) -> None:
    assert _claims(text) == []
