"""A recogniser's habit within one talk: where it keeps writing another word for a man, the man is meant."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from lesson.hear.grammar import Grammar, Symbol
from lesson.hear.sounds import Sounds
from lesson.hear.squares import find_squares
from lesson.hear.tokens import Token

# In a talk this often right before a square or a "takes", where nothing but a man makes sense. Set by hand: twice may
# still be a slip of two words that met.
_OFTEN = 3
_OWNERS = frozenset(("the", "his", "her", "my", "your", "our", "their", "other", "another", "this", "that"))
_MOTIONS = ("take", "swap", "recapture", "go", "back")


def with_men(tokens: Sequence[Token], grammar: Grammar, sounds: Sounds) -> list[Token]:
    """The tokens, with the man's name for words that "perhaps" mean one where this talk shows that they do."""
    symbols = grammar.symbols([t.text for t in tokens])
    perhaps = {s.first: s.value for s in symbols if s.kind == "perhaps"}
    if not perhaps:
        return list(tokens)
    squares = {q.first for q in find_squares(tokens, sounds) if q.form == "full"}
    verbs = {s.first: s for s in symbols if s.kind in _MOTIONS}
    sure = [i for i in perhaps if _only_a_man(tokens, i, squares, verbs)]
    habits = {text for text, times in Counter(tokens[i].text for i in sure).items() if times >= _OFTEN}
    out = list(tokens)
    for i, man in perhaps.items():
        named = i + 1 in squares or i + 1 in verbs or (i > 0 and tokens[i - 1].text in _OWNERS)
        if tokens[i].text in habits and named:
            out[i] = replace(tokens[i], text=man)
    return out


def _only_a_man(tokens: Sequence[Token], i: int, squares: set[int], verbs: dict[int, Symbol]) -> bool:
    """Whether the word stands right before a square, or before "takes" in a form that goes with a man only."""
    if tokens[i].stop or i + 1 >= len(tokens):
        return False
    verb = verbs.get(i + 1)
    return i + 1 in squares or (verb is not None and verb.kind == "take" and tokens[i + 1].text.endswith("s"))
