"""What a strict reading of a script hears beyond moves: announced returns, recommendations, whom it is for."""

from __future__ import annotations

from collections.abc import Sequence

from lesson.hear.grammar import Symbol, load_grammar
from lesson.hear.tokens import Token, tokenise


def signs(tokens: Sequence[Token]) -> list[Symbol]:
    """Every sign in order of place."""
    return load_grammar("en-checks").symbols([token.text for token in tokens])


def advised_words(words: Sequence[str]) -> set[int]:
    """The words that announce a recommendation, and the one after them."""
    tokens = tokenise(words)
    found = [s for s in signs(tokens) if s.kind == "recommend" and s.value == "next"]
    return {tokens[i].word for s in found for i in range(s.first + 1, min(s.last + 1, len(tokens)))}
