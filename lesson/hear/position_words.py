"""Words of the talk -> the items a dictated position is made of: sides, men, squares, counts, turns, small words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lesson.hear.dictated_squares import (
    UNHEARD,
    Heard,
    SquareSounds,
    hear_square,
    hear_worded_square,
    load_square_sounds,
)
from lesson.hear.grammar import Symbol, load_grammar
from lesson.hear.tokens import Token, tokenise

# Where two rules meet at one token the earlier kind wins.
_ORDER = ("turn", "against", "side", "hint", "man", "men", "stop", "lead", "count", "given", "glue")
# A noun's square follows within so many tokens ("his rook down on b2"); further away everyday words are just words.
_DUE = 5
# A misheard side is believed when a man follows within so many tokens ("right as the king").
_NEAR = 3


@dataclass(frozen=True, slots=True)
class Item:
    """Tokens [first, last) as one element. `kind` is a rule's ("side", "man", "turn", ...), "square" or "other";
    `value` the rule's value; `text` the words as lower-case tokens; `stop` as in Token; `opens` a sentence."""

    first: int
    last: int
    kind: str
    value: str = ""
    text: str = ""
    square: Heard | None = None
    stop: int = 0
    opens: bool = False


@dataclass(frozen=True)
class Heardable:
    """A talk ready for dictation: tokens, all symbols by first token, and the items in order."""

    tokens: tuple[Token, ...]
    symbols: dict[int, list[Symbol]]
    items: tuple[Item, ...]


def hear_items(words: Sequence[str], language: str = "en") -> Heardable:
    """The talk's words as items; the items cover every token once, in order."""
    tokens = tuple(tokenise(words))
    texts = [t.text for t in tokens]
    symbols: dict[int, list[Symbol]] = {}
    for symbol in load_grammar(f"{language}-positions").symbols(texts):
        symbols.setdefault(symbol.first, []).append(symbol)
    items = _Reader(tokens, texts, symbols, load_square_sounds()).read()
    return Heardable(tokens, symbols, tuple(items))


class _Reader:
    def __init__(self, tokens: Sequence[Token], texts: list[str], symbols: dict[int, list[Symbol]], s: SquareSounds):
        self.tokens, self.texts, self.symbols, self.sounds = tokens, texts, symbols, s
        self.glued = [t.glued for t in tokens]
        self.due_until = -1  # a noun without its square waits up to this token

    def read(self) -> list[Item]:
        out: list[Item] = []
        at = 0
        while at < len(self.tokens):
            item = self._item(at)
            if item.kind in ("man", "men"):
                self.due_until = item.last + _DUE
            elif item.kind in ("square", "stop", "turn", "side"):
                self.due_until = -1
            out.append(item)
            at = item.last
        return out

    def _item(self, at: int) -> Item:
        known = {s.kind: s for s in self.symbols.get(at, ()) if s.kind in _ORDER}
        if turn := known.get("turn"):
            return self._made(turn.first, turn.last, "turn", turn.value)
        if square := hear_square(self.texts, self.glued, at, self.sounds):
            return self._made(square.first, square.last, "square", square=square)
        if square := self._due_square(at):
            return self._made(square.first, square.last, "square", square=square)
        for kind in _ORDER:
            if (symbol := known.get(kind)) and self._believable(symbol):
                return self._made(symbol.first, symbol.last, kind, symbol.value)
        return self._made(at, at + 1, "other")

    def _believable(self, symbol: Symbol) -> bool:
        if symbol.kind in ("hint", "count"):
            return self._man_near(symbol.last, _NEAR if symbol.kind == "hint" else 2)
        return True

    def _man_near(self, at: int, reach: int) -> bool:
        return any(s.kind in ("man", "men") for i in range(at, at + reach) for s in self.symbols.get(i, ()))

    def _due_square(self, at: int) -> Heard | None:
        if at > self.due_until:
            return None
        square = hear_worded_square(self.texts, at, self.sounds)
        # "the two bishops" counts, it does not place
        if square and not (self.texts[at] in self.sounds.letters and self._man_near(square.last, 1)):
            return square
        after_on = at > 0 and self.texts[at - 1] in ("on", "at")
        if after_on and self.texts[at] in tuple("12345678") and not self._man_near(at + 1, 1):
            return Heard(at, at + 1, "", UNHEARD, self.sounds.rank_costs(int(self.texts[at]) - 1))
        return None

    def _made(self, first: int, last: int, kind: str, value: str = "", square: Heard | None = None) -> Item:
        text = " ".join(self.texts[first:last])
        return Item(first, last, kind, value, text, square, self.tokens[last - 1].stop, self.tokens[first].opens)
