"""What a strict reading of a script hears beyond moves: announced returns, recommendations, whom it is for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from lesson.data import data_path
from lesson.hear.grammar import Rule, Symbol, load_grammar, read_rules
from lesson.hear.tokens import Token, tokenise


def signs(tokens: Sequence[Token]) -> list[Symbol]:
    """Every sign in order of place."""
    return load_grammar("en-checks").symbols([token.text for token in tokens])


def advised_words(words: Sequence[str]) -> set[int]:
    """The words that announce a recommendation, and the one after them."""
    tokens = tokenise(words)
    found = [s for s in signs(tokens) if s.kind == "recommend" and s.value == "next"]
    return {tokens[i].word for s in found for i in range(s.first + 1, min(s.last + 1, len(tokens)))}


@cache
def patterns() -> tuple[Rule, ...]:
    """What is heard by stops and forms of words: `match` of such a rule are regular expressions.

    Raises: DataError if the file is missing or a pattern is broken.
    """
    return read_rules(Path(str(data_path("grammars/en-checks.toml"))), "pattern")


@cache
def heard(means: str) -> re.Pattern[str]:
    """What finds words of a meaning in a lower-case text."""
    return whole_words(_rows(means))


def whole_words(rows: str) -> re.Pattern[str]:
    """Rows of a pattern, with those they name put in, ready to find whole words."""
    rows = re.sub(r"<([a-z-]+)>", lambda name: f"(?:{_rows(name[1])})", rows)
    return re.compile(rf"(?<!\w)(?:{rows})(?!\w)")


def _rows(means: str) -> str:
    return "|".join(row for rule in patterns() if rule.means == means for row in rule.match)


@cache
def man(word: str) -> str:
    """The letter of the man a word names."""
    return next(symbol.value for symbol in load_grammar().symbols([word]) if symbol.kind == "piece")
