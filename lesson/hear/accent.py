"""A recogniser's habit within one talk: where it keeps writing another word for a man, the man is meant."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from lesson.hear.grammar import Grammar, Symbol
from lesson.hear.scan import OWNERS
from lesson.hear.sounds import RANKS, Sounds
from lesson.hear.squares import find_squares
from lesson.hear.tokens import Token

# In a talk this often right before a square or a "takes", where nothing but a man makes sense. Set by hand: twice may
# still be a slip of two words that met.
_OFTEN = 3
_BEFORE_A_MAN = OWNERS | {"our", "their", "other", "another"}
_MOTIONS = ("take", "swap", "recapture", "go", "back")


def with_men(tokens: Sequence[Token], grammar: Grammar, sounds: Sounds) -> list[Token]:
    """The tokens, with the man's name for words that "perhaps" mean one where this talk shows that they do."""
    tokens = _numbered(tokens)
    symbols = grammar.symbols([t.text for t in tokens])
    perhaps = {s.first: s.value for s in symbols if s.kind == "perhaps"}
    if not perhaps:
        return list(tokens)
    found = find_squares(tokens, sounds)
    squares, any_squares = {q.first for q in found if q.form == "full"}, {q.first for q in found}
    verbs = {s.first: s for s in symbols if s.kind in _MOTIONS}
    sure = [i for i in perhaps if _only_a_man(tokens, i, squares, verbs)]
    habits = {text for text, times in Counter(tokens[i].text for i in sure).items() if times >= _OFTEN}
    out = list(tokens)
    for i, man in perhaps.items():
        named = i + 1 in any_squares or i + 1 in verbs or (i > 0 and tokens[i - 1].text in _BEFORE_A_MAN)
        if tokens[i].text in habits and named:
            out[i] = replace(tokens[i], text=man)
    return out


def _numbered(tokens: Sequence[Token]) -> list[Token]:
    """ "I-10-3", "I53": a knight and a rank whose file was swallowed, where a talk is full of them."""
    found = {i: _numbers(tokens, i) for i, token in enumerate(tokens) if token.text == "i" and not token.glued}
    found = {i: digits for i, digits in found.items() if digits in (("1", "0"), ("5",))}
    habits = {digits for digits, times in Counter(found.values()).items() if times >= _OFTEN}
    out: list[Token] = []
    i = 0
    while i < len(tokens):
        if found.get(i) in habits:
            rank = i + len(found[i]) + 1
            out += [replace(tokens[i], text="knight"), replace(tokens[rank], glued=False)]
            i = rank
        else:
            out.append(tokens[i])
        i += 1
    return out


def _numbers(tokens: Sequence[Token], i: int) -> tuple[str, ...]:
    """The digits run together with a token, but for the last, which is the rank."""
    last = i + 1
    while last < len(tokens) and tokens[last].glued:
        last += 1
    digits = tuple(t.text for t in tokens[i + 1 : last])
    return digits[:-1] if len(digits) > 1 and all(d.isdigit() for d in digits) and digits[-1] in RANKS else ()


def _only_a_man(tokens: Sequence[Token], i: int, squares: set[int], verbs: dict[int, Symbol]) -> bool:
    """Whether the word stands right before a square, or before "takes" in a form that goes with a man only."""
    if tokens[i].stop or i + 1 >= len(tokens):
        return False
    verb = verbs.get(i + 1)
    return i + 1 in squares or (verb is not None and verb.kind == "take" and tokens[i + 1].text.endswith("s"))
