"""What the words around a claim do to it: ask, suppose, put off, take back; and of whom it is said where only "it" or
an "and" stands for him. Knows no board."""

from __future__ import annotations

from dataclasses import replace

from lesson.hear.clauses import Clauses, Named
from lesson.hear.grammar import Symbol
from lesson.hear.tokens import NUMBER_WORDS

# Right behind a claim these put it off, or take it back.
_LATER = frozenset(("after", "once", "unless", "soon", "eventually", "next", "morning", "evening"))
_TAKEN_BACK = frozenset(("no", "wait", "sorry", "rather"))
_MODAL = frozenset(("would", "could", "might", "may", "should", "will", "won't", "wouldn't"))
_WHO = frozenset(("i", "you", "he", "she", "it", "we", "they", "white", "black"))
_WH = frozenset(("who", "who's", "what", "what's", "why", "how", "where", "where's", "when", "which"))
# A question of these words alone asks for assent: what stands before it is claimed.
_TAG = frozenset((
    "isn't", "aren't", "doesn't", "don't", "hasn't", "haven't", "wasn't", "can't", "is", "are", "does", "do", "has",
    "have", "right", "okay", "ok", "agreed", "see", "eh", "yes", "no", "correct", "yeah",
))  # fmt: skip
_LONGEST_TAG = 3
# How far back in its sentence a supposition is looked for, in tokens.
_REACH = 30
_IT = frozenset(("it", "it's", "it'd", "she", "she's", "he's", "they", "they're"))


class Supposed(Clauses):
    """The clauses of a talk, and what they leave of a claim."""

    def asked(self, last: int) -> bool:
        """Whether the sentence that goes on at a token is a question of what was said before it: not "it is pinned,
        isn't it?" nor "it is pinned, but who cares?"."""
        end = next((i for i in range(last - 1, min(last + 24, len(self.tokens))) if self.tokens[i].stop == 2), None)
        if end is None or "?" not in self.words[self.tokens[end].word]:
            return False
        begins = next((i + 1 for i in range(end - 1, last - 2, -1) if self.tokens[i].stop), None)
        if begins is not None and end - begins < _LONGEST_TAG and self.tokens[begins].text in _TAG:
            return False
        stop = False
        for i in range(last, end + 1):
            stop = stop or bool(self.tokens[i - 1].stop)
            if stop and self.tokens[i].text in _WH:
                return False
        return True

    def supposed(self, core: Symbol) -> int:
        """The token before the core at which its sentence begins to suppose something, or to be about another day; -1
        for none. What follows a comma and "but" is free of it."""
        marks = self.marks.get("veto:if", set()) | self.marks.get("veto:then", set())
        for at in range(core.first - 1, max(core.first - _REACH, 0) - 1, -1):
            if self.tokens[at].stop == 2 or (self.tokens[at].text == "but" and at and self.tokens[at - 1].stop):
                return -1
            if at in marks:
                return at
        return -1

    def is_unsaid(self, core: Symbol) -> bool:
        """Whether what stands around the clause takes the claim back: supposed before it ("would like e2, check"),
        bound to something behind it ("it's mate if he takes", "check would do it") or withdrawn ("mate, no, wait")."""
        at = core.first
        bare = core.last - at == 1 or self.tokens[at].text in ("with", "giving")
        if (
            bare
            and at > 1
            and self.tokens[at - 1].stop == 1
            and self.in_clause("veto", replace(core, first=at - 1, last=at))
        ):
            return True
        if self.is_to_come(core.last):
            return True
        for i in range(core.last, min(core.last + 4, len(self.tokens))):
            text = self.tokens[i].text
            if text in _TAKEN_BACK and i == core.last and self.tokens[i - 1].stop:
                return self.takes_back(i)
            if self.tokens[i - 1].stop == 2:
                break
            later = text in _LATER and self.tokens[i - 1].text != "at"
            if i in self.marks.get("veto:if", ()) or (later and self.tokens[i + 1 : i + 2] and not self.counts(i + 1)):
                return True
        return False

    def is_to_come(self, at: int) -> bool:
        """Whether right behind a claim it is said to be no more than possible: "check would", "the pawn he may get"."""
        if at >= len(self.tokens) or self.tokens[at - 1].stop:
            return False
        at += self.tokens[at].text in ("that", "which") and at + 1 < len(self.tokens)
        at += self.tokens[at].text in _WHO and at + 1 < len(self.tokens)
        return self.tokens[at].text in _MODAL

    def takes_back(self, at: int) -> bool:
        """Whether "no" or "wait" behind a stop takes back what stands before it: not "mate, no doubt"."""
        following = self.tokens[min(at + 1, len(self.tokens) - 1)].text
        alone = self.tokens[at].text != "no" or bool(self.tokens[at].stop)
        return (self.tokens[at - 1].stop == 1 and alone) or following in _TAKEN_BACK

    def counts(self, at: int) -> bool:
        """Whether a number is spoken at a token: "after two moves"."""
        return self.tokens[at].text in NUMBER_WORDS or self.tokens[at].text.isdigit()

    # ----------------------------------------------------------------------------------------------- of whom it is said

    def referred(self, core: Symbol, lo: int) -> list[Named]:
        """The man that "it" or an "and" stands for before a core whose clause, from `lo` on, names none: "the knight on
        c3? It's pinned"."""
        said = {self.tokens[at].text for at in range(lo, core.first)}
        if said and _IT.isdisjoint(said):
            return []
        if not said and (not lo or self.tokens[lo - 1].text not in ("and", "but")):
            return []
        return self.antecedent(lo)

    def antecedent(self, lo: int) -> list[Named]:
        """The only man named in the sentence before its clause at `lo`, or in the question before it; [] for none."""
        begin = lo
        while begin and self.tokens[begin - 1].stop != 2 and lo - begin < _REACH:
            begin -= 1
        men = self.doers(begin, lo)
        if not men and begin and self.tokens[begin - 1].asks:
            before = begin - 1
            while before and self.tokens[before - 1].stop != 2 and begin - before < _REACH:
                before -= 1
            men = self.doers(before, begin)
        return men if len(men) == 1 else []

    def doers(self, lo: int, hi: int) -> list[Named]:
        """The men named within tokens [lo, hi), without those who do it ("by"), those who move ("rook e1"), squares."""
        men = [n for n in self.named_men(lo, hi) if n.man.piece]
        men = [n for n in men if not (n.man.square and self.square(n.first + 1))]
        return [n for n in men if "by" not in (t.text for t in self.tokens[max(n.first - 3, lo) : n.first])]
