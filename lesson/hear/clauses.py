"""The clauses of a talk's words, and the men and squares named in them. Knows no board."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lesson.hear.grammar import Symbol, load_grammar
from lesson.hear.tokens import NUMBER_WORDS, Token, tokenise

Side = Literal["w", "b", ""]

# Clauses end at a stop or before these words.
_OPENS = frozenset(
    ("and", "but", "so", "because", "since", "though", "although", "then", "while", "as", "for", "that", "which")
)
# Words that may stand between two men of one list, or before the square of a man.
LIST = frozenset(("and", "the", "his", "her", "my", "your", "both", "black", "white", "black's", "white's", "a", "on"))
_PLACE = frozenset(("on", "at"))
_WAYS = frozenset(("from", "to", "via", "towards"))
# A man before one of these begins a clause of its own.
_DOES = frozenset(
    ("is", "are", "was", "goes", "comes", "steps", "looks", "has", "can", "will", "takes", "moves", "stands")
)
# Behind one of these stands something else than what is attacked or pinned.
_OTHER = frozenset(("on", "of", "in", "at", "from", "with", "for", "into", "like", "than", "by"))
# Behind one of these stands with what or from where it is done.
_MEANS = frozenset(("with", "from", "in", "for", "by", "into", "like", "without"))
# How far a clause is followed back and on where captions have no stops, in tokens.
BACK, _ON = 10, 9


@dataclass(frozen=True, slots=True)
class Man:
    """A man as it was named: `piece` a letter of PNBRQK, "M" for any piece or "" (a bare square); `square`, `file` and
    `side` "" where they were not said."""

    piece: str
    square: str = ""
    file: str = ""
    side: Side = ""


@dataclass(frozen=True, slots=True)
class Named:
    """A man or a bare square at tokens [first, last)."""

    first: int
    last: int
    man: Man


class Clauses:
    """The words of a talk as tokens, with the meanings the grammar of claims finds in them.

    Raises: DataError if that grammar is missing or broken.
    """

    def __init__(self, words: Sequence[str]) -> None:
        self.words = words
        self.tokens: list[Token] = tokenise(words)
        self.symbols = load_grammar("en-claims").symbols([t.text for t in self.tokens])
        self.marks: dict[str, set[int]] = {}
        self._marked: dict[tuple[str, ...], set[int]] = {}
        # "As you can see" vetoes nothing.
        plain = {at for s in self.symbols if s.kind == "plain" for at in range(s.first, s.last)} | self.counted()
        self.plain = plain
        for s in self.symbols:
            if s.kind in ("veto", "deny") and not plain.isdisjoint(range(s.first, s.last)):
                continue
            for meaning in (s.kind, f"{s.kind}:{s.value}"):
                self.marks.setdefault(meaning, set()).update(range(s.first, s.last))
        self.men = {s.first: s for s in self.symbols if s.kind == "man"}
        # "The pawn, of course, is hanging": commas that part nothing.
        self.bridged: set[int] = set()
        for s in self.symbols:
            before, last = s.first - 1, s.last - 1
            if s.kind == "aside" and before >= 0 and self.tokens[before].stop == self.tokens[last].stop == 1:
                self.bridged |= {before, last}
        self.sides: dict[int, Side] = {
            s.first: "w" if s.value == "w" else "b" for s in self.symbols if s.kind == "side"
        }

    def marked(self, *meanings: str) -> set[int]:
        """The tokens that have one of some meanings."""
        found = self._marked.get(meanings)
        if found is None:
            found = set().union(*(self.marks.get(meaning, ()) for meaning in meanings))
            self._marked[meanings] = found
        return found

    def counted(self) -> set[int]:
        """The tokens "once" that count: "attacked twice and defended once"."""
        tokens = self.tokens
        ends = [i for i, t in enumerate(tokens) if t.stop or tokens[min(i + 1, len(tokens) - 1)].text in ("and", "by")]
        return {i for i in ends if tokens[i].text == "once"}

    # ------------------------------------------------------------------------------------------------------- the clause

    def clause_start(self, token: int) -> int:
        """The first token of the clause that ends before `token`."""
        at = token
        while at > max(token - BACK, 0) and not self.stop(at - 1) and not self.opens(at - 1):
            at -= 1
        return at

    def opens(self, at: int) -> bool:
        """Whether a token opens a clause: not the "as" of "as well"."""
        return self.tokens[at].text in _OPENS and (self.tokens[at].text != "as" or not self.closes(at + 1))

    def closes(self, at: int) -> bool:
        return at < len(self.tokens) and self.tokens[at].text in ("well", "usual", "always", "ever")

    def stop(self, at: int) -> int:
        """What ends behind a token, as in `Token`; 0 where the words between two commas are said in passing."""
        return 0 if at in self.bridged else self.tokens[at].stop

    def clause_end(self, token: int) -> int:
        """One past the last token of the clause that goes on at `token`; lists of men hold it together."""
        at = token
        if at and self.tokens[at - 1].stop == 2:
            return at
        while at < min(token + _ON, len(self.tokens)):
            stops = self.stop(at - 1) if at else 0
            if stops == 2 or ((stops or self.opens(at)) and not self.goes_on(at)):
                return at
            at += 1
        return at

    def goes_on(self, at: int) -> bool:
        """Whether a list of men goes on at a token, behind a comma or an "and"; a man with its square is a move."""
        joined = at > 1 and at - 2 in self.men and self.tokens[at - 1].text == "and"
        if at < 2 or not (at - 1 in self.men or joined or self.square(at - 2)):
            return False
        for i in range(at, min(at + 4, len(self.tokens))):
            if i in self.men:
                return not self.square(i + 1)
            if self.square(i):
                # Behind a comma a square is a move.
                return not self.tokens[at - 1].stop
            if self.tokens[i].text not in LIST:
                return False
        return False

    def in_clause(self, kind: str, core: Symbol, reach: int = BACK) -> list[int]:
        """The tokens of meaning `kind` before the core in its clause; what opens the clause counts too, and so does
        the clause before where it is one thought with this: "he was sure that", "if he takes and"."""
        lo = self.clause_start(core.first)
        marked = self.marks.get(kind, set())
        found: list[int] = []
        if lo and not self.tokens[lo - 1].stop:
            opener = self.tokens[lo - 1].text
            lo -= opener not in ("and", "but", "so")
            if opener == "for" and core.first - lo <= 3:
                # "He hopes for mate": the same clause.
                lo = self.clause_start(lo)
            if kind == "veto" and opener in ("that", "and"):
                found = [at for at in range(self.clause_start(lo - (opener == "and")), lo) if at in marked]
        return found + [at for at in range(max(lo, core.first - reach), core.first) if at in marked]

    # ---------------------------------------------------------------------------------------------------------- the men

    def square(self, at: int) -> str:
        """The square spoken at tokens `at` and the next, "" if none."""
        if not 0 <= at < len(self.tokens) - 1 or self.tokens[at].stop:
            return ""
        file, rank = self.tokens[at].text, NUMBER_WORDS.get(self.tokens[at + 1].text, self.tokens[at + 1].text)
        return file + rank if file in tuple("abcdefgh") and rank in tuple("12345678") else ""

    def named_men(self, lo: int, hi: int) -> list[Named]:
        """The men and bare squares named within tokens [lo, hi), in order."""
        out: list[Named] = []
        at = lo
        while at < hi:
            if at in self.men:
                out.append(self.man(at, lo, hi))
                at = out[-1].last
            elif square := self.square(at):
                # From where and to where are places, not what is meant.
                if at > lo and self.tokens[at - 1].text in _WAYS:
                    at += 2
                    continue
                if at + 2 not in self.men or at + 2 >= hi or self.tokens[at + 1].stop:
                    out.append(Named(at, at + 2, Man("", square)))
                at += 2
            else:
                at += 1
        return out

    def man(self, at: int, lo: int, hi: int) -> Named:
        """The man named at a token, with the square behind or before it, its file and its colour."""
        symbol = self.men[at]
        first, last = at, symbol.last
        square = file = ""
        place = last + (last < hi and self.tokens[last].text in _PLACE)
        if not self.tokens[last - 1].stop and place + 1 < hi + 1 and (square := self.square(place)):
            last = place + 2
        elif at - 2 >= lo and (square := self.square(at - 2)):
            first = at - 2
        elif at > lo and self.is_file(at - 1) and (self.tokens[at - 1].text != "a" or self.tokens[at].glued):
            file, first = self.tokens[at - 1].text, at - 1
        side: Side = next((self.sides[i] for i in range(first - 1, max(first - 3, lo - 1), -1) if i in self.sides), "")
        return Named(first, last, Man(symbol.value, square, file, side))

    def is_file(self, at: int) -> bool:
        return self.tokens[at].text in tuple("abcdefgh")

    def run(self, men: Sequence[Named], start: int) -> list[Named]:
        """The men from `start` on that stand in one list with the first."""
        out: list[Named] = []
        end = start
        for named in men:
            between = [self.tokens[i].text for i in range(end, named.first)]
            if between[:1] and between[0] in _MEANS:
                # "Pins with the queen".
                break
            if "from" in between or (out and self.is_doing(named.last)):
                # "Pins from a6"; "and the rook goes" is the next clause.
                break
            # "Pins his hopes on the pawn" is about hopes.
            if (
                len(between) > 4
                or not _OTHER.isdisjoint(between[1:])
                or (
                    out
                    and not all(
                        t in LIST or i in self.marks.get("link", ())
                        for i, t in zip(range(end, named.first), between, strict=True)
                    )
                )
            ):
                break
            out.append(named)
            end = named.last
        return out

    def is_doing(self, at: int) -> bool:
        """Whether a verb stands at a token, so that the man before it is the subject of another clause."""
        if at >= len(self.tokens) or self.tokens[at - 1].stop:
            return False
        return self.tokens[at].text in _DOES or at in self.marks.get("claim", ())

    def split(self, men: Sequence[Named]) -> list[Named]:
        """Of a list "the knight to the queen", the men behind "to"."""
        for index in range(1, len(men)):
            if any(i in self.marks.get("link", ()) for i in range(men[index - 1].last, men[index].first)):
                return list(men[index:])
        return []

    def turned(self, men: Sequence[Named]) -> tuple[list[Named], list[Named]]:
        """The men in front and behind, of "skewers the queen behind the king" and "pins it in front of the king"."""
        if not men or self.tokens[men[-1].last - 1].stop:
            return list(men), []
        texts = [token.text for token in self.tokens[men[-1].last : men[-1].last + 3]]
        start = men[-1].last + (1 if texts[:1] == ["behind"] else 3)
        other = self.named_men(start, min(start + 4, len(self.tokens)))[:1]
        if texts[:1] == ["behind"] and other:
            return other, list(men)
        return list(men), other if texts == ["in", "front", "of"] else []

    def linked(self, lo: int, hi: int) -> list[Named]:
        """The man behind "to" or "against", right after the core."""
        if lo < hi and lo in self.marks.get("link", ()) and not self.tokens[lo - 1].stop:
            return self.named_men(lo + 1, min(hi, lo + 5))[:1]
        return []

    def by_whom(self, lo: int, hi: int) -> list[Named]:
        """The man behind "by"."""
        at = next((i for i in range(lo, min(hi, lo + 4)) if self.tokens[i].text == "by"), None)
        return self.named_men(at + 1, min(hi, at + 6))[:1] if at is not None and not self.tokens[lo - 1].stop else []
