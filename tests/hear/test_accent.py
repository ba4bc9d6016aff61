"""A word that keeps standing where only a man makes sense is that man, in this talk and no other."""

from __future__ import annotations

from lesson.hear.accent import with_men
from lesson.hear.grammar import load_grammar
from lesson.hear.sounds import load_sounds
from lesson.hear.tokens import tokenise


def heard(text: str) -> str:
    return " ".join(t.text for t in with_men(tokenise(text.split()), load_grammar(), load_sounds()))


def test_a_word_said_again_and_again_before_squares_is_the_man() -> None:
    text = "e4 e5 I'd f3 I'd c6 I'd takes e5 and his I'd takes e5. I'd say the I'd drops back."
    assert heard(text) == (
        "e 4 e 5 knight f 3 knight c 6 knight takes e 5 and his knight takes e 5 i'd say the knight drops back"
    )


def test_a_word_said_so_once_or_twice_stays_what_it_is() -> None:
    text = "I'd take e5, and on a bad day I'd f3"
    assert "knight" not in heard(text)
    assert heard("9 minutes and 9 f6") == "9 minutes and 9 f 6"


def test_a_knight_and_a_rank_in_a_talk_full_of_them() -> None:
    assert heard("E-4, I-10-3, the I-10-6 and I-10-2") == "e 4 knight 3 the knight 6 and knight 2"
    assert heard("on page I-10-3") == "on page i 1 0 3"
