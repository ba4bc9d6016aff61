"""Verdicts in the words of a talk: "that's a mistake", "White is better". Knows no board.

Cautious: a verdict that is denied, asked, supposed, softened, quoted or said of chess at large is none. The words and
their meanings are in grammars/en-verdicts.toml; here is only where they must stand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from lesson.hear.grammar import Symbol, load_grammar
from lesson.hear.tokens import Token, tokenise

Side = Literal["w", "b", ""]
Target = Literal["before", "that", "after", "line", "position"]

# PGN standard 1994, section 10.
MOVE_NAGS = {
    "good": 1,
    "mistake": 2,
    "brilliant": 3,
    "blunder": 4,
    "interesting": 5,
    "dubious": 6,
    "forced": 7,
    "only": 8,
    "worst": 9,
}
EVEN_NAGS = {"equal": 10, "quiet": 11, "active": 12, "unclear": 13}
# White's number; Black's is one more.
SIDE_NAGS = {
    "slight": 14,
    "better": 16,
    "winning": 18,
    "crushing": 20,
    "zugzwang": 22,
    "initiative": 36,
    "lasting": 38,
    "attack": 40,
    "insufficient": 42,
    "compensation": 44,
    "overcompensation": 46,
    "somecounterplay": 130,
    "counterplay": 132,
    "decisivecounterplay": 134,
}

_COLOURS: dict[str, Side] = {"white": "w", "white's": "w", "black": "b", "black's": "b"}
_OTHER: dict[str, Side] = {"w": "b", "b": "w"}
_CLAUSE_OPENS = frozenset(("and", "but", "so", "because", "since", "though", "although", "then"))
_VETOES = ("not", "maybe", "ask", "told", "often")
# A verdict set beside its move has a word of a move so near, in tokens.
_BESIDE = 6
# How far a word may take a verdict back where captions have no stops, in tokens.
_CLAUSE = 8
_SENTENCE = 24


@dataclass(frozen=True, slots=True)
class Verdict:
    """A verdict said by words [first, last).

    `kind` is a key of MOVE_NAGS, EVEN_NAGS or SIDE_NAGS; `side` is who has it, in zugzwang who is in it, "" where no
    side is meant. `target` says what is judged: the move whose words end right "before" it; "that" move, the last one
    told; the move whose words begin right "after" it; the position at the end of the "line" told so far; the
    "position" the sentence is about. `given` is the word that opens a condition ("if"): then the verdict holds only
    where a move is told between that word and the verdict.
    """

    first: int
    last: int
    kind: str
    side: Side
    target: Target
    given: int | None = None

    @property
    def nag(self) -> int:
        """The number of the PGN standard of 1994."""
        if self.side:
            return SIDE_NAGS[self.kind] + (self.side == "b")
        return MOVE_NAGS[self.kind] if self.kind in MOVE_NAGS else EVEN_NAGS[self.kind]


def find_verdicts(words: Sequence[str]) -> list[Verdict]:
    """The verdicts in a talk's words, in order, not overlapping; only those clear from the words alone.

    Raises: DataError if the grammar of verdicts is missing or broken.
    """
    return list(_Search(words).verdicts())


class _Search:
    """The symbols of a talk by place, and the questions asked about them."""

    def __init__(self, words: Sequence[str]) -> None:
        self.words = words
        self.tokens: list[Token] = tokenise(words)
        self.symbols = load_grammar("en-verdicts").symbols([t.text for t in self.tokens])

    def verdicts(self) -> Iterator[Verdict]:
        end = 0
        for symbol in self.judging:
            if symbol.first < end:
                continue
            found = self.of_move(symbol) if symbol.kind == "move" else self.of_position(symbol)
            if found is not None:
                end = symbol.last
                yield found

    @cached_property
    def judging(self) -> list[Symbol]:
        """The verdict words, without those inside longer ones."""
        found = [s for s in self.symbols if s.kind in ("move", "both", "for", "against")]
        return [s for s in found if not any(_inside(s, other) for other in found)]

    # ------------------------------------------------------------------------------------------------------- the kinds

    def of_move(self, symbol: Symbol) -> Verdict | None:
        first, last = symbol.first, symbol.last
        target: Target
        if (opening := self.ending_at("frame:that", first)) is not None and not self.has("general", opening - 1):
            target, first = "that", opening
        elif (opening := self.ending_at("frame:is", first)) is not None:
            target, first = "before", opening
        elif (closing := self.starting_at("frame:next", last)) is not None and not self.stops(last - 1):
            target, last = "after", closing
            return self.made(symbol, first, last, "", target, follow=False)
        elif (opening := self.ending_at("frame:find", first)) is not None and self.stops(last - 1):
            target, first = "after", opening
        elif first and self.tokens[first - 1].stop == 1:
            target = "before"
        else:
            return None
        return self.made(symbol, first, last, "", target)

    def of_position(self, symbol: Symbol) -> Verdict | None:
        first, last = symbol.first, symbol.last
        opening = self.ending_at("subject", first)
        if opening is not None:
            first = opening
        elif not self.opens_clause(symbol):
            return None
        side: Side = ""
        if symbol.kind != "both":
            named = [_COLOURS[t.text] for t in self.tokens[symbol.first : last] if t.text in _COLOURS]
            side = _OTHER[named[-1]] if symbol.kind == "against" else named[-1]
        elif self.in_clause("veto:level", first):
            return None
        target: Target = "position" if self.in_sentence("about", first, last) else "line"
        return self.made(symbol, first, last, side, target)

    def made(
        self, symbol: Symbol, first: int, last: int, side: Side, target: Target, follow: bool = True
    ) -> Verdict | None:
        """The verdict at tokens [first, last), None where something takes it back."""
        if (follow and not self.follows_well(last)) or (first and self.has("veto:if", first - 1)):
            return None
        if self.asked(last) or not self.beside_move(first, last, target):
            return None
        # Set behind its move by a comma, a verdict belongs to the clause before the comma: "not a4, a mistake".
        clause = first - 1 if target == "before" and self.tokens[first - 1].stop else first
        if any(self.in_clause(f"veto:{veto}", clause) for veto in _VETOES):
            return None
        given = self.condition(first)
        return Verdict(self.tokens[first].word, self.tokens[last - 1].word + 1, symbol.value, side, target, given)

    # ------------------------------------------------------------------------------------------- what stands around it

    @cached_property
    def marks(self) -> dict[str, set[int]]:
        """Meaning -> the tokens it covers; vetoes without the words of the teacher's own "I'd say"."""
        out: dict[str, set[int]] = {}
        for s in self.symbols:
            out.setdefault(_meaning(s), set()).update(range(s.first, s.last))
        mine = out.get("mine", set())
        return {m: covered - mine if m.startswith("veto:") else covered for m, covered in out.items()}

    @cached_property
    def spans(self) -> dict[str, list[tuple[int, int]]]:
        out: dict[str, list[tuple[int, int]]] = {}
        for s in self.symbols:
            out.setdefault(_meaning(s), []).append((s.first, s.last))
        return out

    def has(self, meaning: str, token: int) -> bool:
        return token in self.marks.get(meaning, ())

    def stops(self, token: int) -> bool:
        """Whether a comma or more follows the token, or nothing at all."""
        return token == len(self.tokens) - 1 or self.tokens[token].stop > 0

    def ending_at(self, meaning: str, token: int) -> int | None:
        """Where the longest match of `meaning` that ends right before `token`, without a stop there, begins."""
        if token and self.tokens[token - 1].stop:
            return None
        return min((first for first, last in self.spans.get(meaning, ()) if last == token), default=None)

    def starting_at(self, meaning: str, token: int) -> int | None:
        return max((last for first, last in self.spans.get(meaning, ()) if first == token), default=None)

    def opens_clause(self, symbol: Symbol) -> bool:
        """Whether a verdict without a subject in front may begin here."""
        first, last = symbol.first, symbol.last
        if first == 0 or self.tokens[first - 1].stop:
            return last - first > 1 or self.stops(last - 1)
        if self.tokens[first].text in _COLOURS:
            return not self.has("behind", first - 1)
        return self.has("self", first) or (last - first > 1 and self.has("lead", first - 1))

    def follows_well(self, last: int) -> bool:
        if last < len(self.tokens) and self.tokens[last - 1].stop < 2 and self.starting_at("turns", last) is not None:
            return False
        return self.stops(last - 1) or self.starting_at("follow", last) is not None

    def beside_move(self, first: int, last: int, target: Target) -> bool:
        """Whether the words next to the verdict can be the move it must stand beside."""
        if target == "before":
            return any(self.has("named", at) for at in range(max(first - _BESIDE, 0), first))
        return target != "after" or any(self.has("named", at) for at in range(last, last + _BESIDE))

    def in_clause(self, meaning: str, first: int) -> bool:
        """Whether `meaning` stands before token `first` in its clause."""
        for at in range(first - 1, max(first - _CLAUSE, 0) - 1, -1):
            if self.tokens[at].stop:
                return False
            if self.has(meaning, at):
                return True
            if self.tokens[at].text in _CLAUSE_OPENS:
                return False
        return False

    def sentence_back(self, first: int) -> Iterator[int]:
        """The tokens before `first` in its sentence, the nearest first."""
        for at in range(first - 1, max(first - _SENTENCE, 0) - 1, -1):
            if self.tokens[at].stop == 2:
                return
            yield at

    def condition(self, first: int) -> int | None:
        return next((self.tokens[at].word for at in self.sentence_back(first) if self.has("veto:if", at)), None)

    def sentence_end(self, last: int) -> int:
        """The last token of the sentence that goes on at token `last` - 1."""
        for at in range(last - 1, min(last + _SENTENCE, len(self.tokens))):
            if self.tokens[at].stop == 2:
                return at
        return min(last + _SENTENCE, len(self.tokens)) - 1

    def asked(self, last: int) -> bool:
        return "?" in self.words[self.tokens[self.sentence_end(last)].word]

    def in_sentence(self, meaning: str, first: int, last: int) -> bool:
        """Whether `meaning` stands in the sentence of the verdict; where there are no stops, close to it."""
        after = range(first, min(self.sentence_end(last) + 1, last + _CLAUSE))
        before = (at for at in self.sentence_back(first) if first - at <= _CLAUSE)
        return any(self.has(meaning, at) for at in (*before, *after))


def _inside(symbol: Symbol, other: Symbol) -> bool:
    longer = other.last - other.first > symbol.last - symbol.first
    return longer and other.first <= symbol.first and symbol.last <= other.last


def _meaning(symbol: Symbol) -> str:
    return f"{symbol.kind}:{symbol.value}" if symbol.value else symbol.kind
