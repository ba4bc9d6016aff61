"""What a strict reading of a script hears beyond moves: announced returns, recommendations, whom it is for."""

from __future__ import annotations

from collections.abc import Sequence

from lesson.hear.grammar import Symbol, load_grammar
from lesson.hear.tokens import Token, tokenise

_PARTS = ("en-checks", "en-scripts")


def signs(tokens: Sequence[Token]) -> list[Symbol]:
    """Every sign in order of place; of one meaning only the longest at each place."""
    texts = [token.text for token in tokens]
    best: dict[tuple[int, str, str], Symbol] = {}
    for part in _PARTS:
        for symbol in load_grammar(part).symbols(texts):
            key = (symbol.first, symbol.kind, symbol.value)
            if key not in best or symbol.last > best[key].last:
                best[key] = symbol
    return sorted(best.values(), key=lambda s: (s.first, s.last, s.kind, s.value))


def advised_words(words: Sequence[str]) -> set[int]:
    """The words that announce a recommendation, and the one after them."""
    tokens = tokenise(words)
    found = [s for s in signs(tokens) if s.kind == "recommend" and s.value == "next"]
    return {tokens[i].word for s in found for i in range(s.first + 1, min(s.last + 1, len(tokens)))}
