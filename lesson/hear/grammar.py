"""The grammar of speech: rules in grammars/*.toml, matched over tokens.

A rule says what some words mean (`means = "piece:N"`), why it is there, what it must match (`says`) and what it must
not (`not`). A pattern is a row of tokens: `a|b` either, `x?` may be missing, `_` any one token, `_?` any or none.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import spacy
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from spacy.matcher import Matcher
from spacy.tokens import Doc

from lesson.data import data_path
from lesson.errors import DataError
from lesson.hear.tokens import tokenise


class Rule(BaseModel):
    """One rule of speech. `cost` (-ln p) tempers a reading that is often something else."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    means: str
    match: list[str] = Field(min_length=1)
    why: str = Field(min_length=10)
    says: list[str] = Field(min_length=1)
    never: list[str] = Field(alias="not", min_length=1)
    cost: float = 0.0


@dataclass(frozen=True, slots=True)
class Symbol:
    """A meaning found at tokens [first, last), e.g. kind "piece", value "N"; `cost` in -ln p."""

    first: int
    last: int
    kind: str
    value: str
    cost: float = 0.0


@dataclass(frozen=True)
class Grammar:
    """All rules of a language, ready to match."""

    rules: tuple[Rule, ...]
    matcher: Matcher
    vocab: Any

    def symbols(self, tokens: Sequence[str]) -> list[Symbol]:
        """Every match of every rule, in order of place; of one meaning only the longest at each place."""
        doc = Doc(self.vocab, words=list(tokens))
        best: dict[tuple[int, str], Symbol] = {}
        for key, first, last in self.matcher(doc):
            rule = self.rules[int(self.vocab.strings[key])]
            kind, _, value = rule.means.partition(":")
            old = best.get((first, rule.means))
            if old is None or last > old.last:
                best[first, rule.means] = Symbol(first, last, kind, value, rule.cost)
        return sorted(best.values(), key=lambda s: (s.first, s.last, s.kind, s.value))


def _token_pattern(item: str) -> dict[str, Any]:
    optional = item.endswith("?")
    item = item.rstrip("?")
    pattern: dict[str, Any] = {} if item == "_" else {"ORTH": {"IN": item.split("|")}}
    if optional:
        pattern["OP"] = "?"
    return pattern


def compile_pattern(pattern: str) -> list[dict[str, Any]]:
    """A rule's pattern -> spaCy's token pattern."""
    return [_token_pattern(item) for item in pattern.split()]


def read_rules(path: Path, table: str = "rule") -> tuple[Rule, ...]:
    """The rules of one grammar file, those of the `table` named.

    Raises: DataError naming every broken rule at once.
    """
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise DataError(f"{path.name}: not a readable TOML file ({error})") from error
    rules: list[Rule] = []
    broken: list[str] = []
    for number, entry in enumerate(content.get(table, []), 1):
        try:
            rules.append(Rule.model_validate(entry))
        except ValidationError as error:
            what = "; ".join(f"{'.'.join(map(str, e['loc']))}: {e['msg']}" for e in error.errors())
            broken.append(f"{table} {number} ({entry.get('means', '?')}): {what}")
    if broken:
        raise DataError(f"{path.name}: {' | '.join(broken)}")
    return tuple(rules)


@cache
def load_grammar(language: str = "en") -> Grammar:
    """The grammar of a language, or of a part of it ("en-verdicts"), compiled once.

    Raises: DataError if the file is missing or a rule is broken.
    """
    rules = read_rules(Path(str(data_path(f"grammars/{language}.toml"))))
    vocab = spacy.blank(language.partition("-")[0]).vocab
    matcher = Matcher(vocab, validate=False)
    for index, rule in enumerate(rules):
        matcher.add(str(index), [compile_pattern(p) for p in rule.match])
    return Grammar(rules, matcher, vocab)


def meanings(text: str, language: str = "en") -> set[str]:
    """Every meaning the grammar finds in a text; what the tests of the rules' examples ask."""
    tokens = [t.text for t in tokenise(text.split())]
    return {f"{s.kind}:{s.value}" if s.value else s.kind for s in load_grammar(language).symbols(tokens)}
