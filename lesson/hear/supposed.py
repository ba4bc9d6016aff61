"""What the words around a claim do to it: ask, suppose, put off, take back; and of whom it is said where only "it" or
an "and" stands for him. Knows no board."""

from __future__ import annotations

from dataclasses import replace

from lesson.hear.clauses import BACK, Clauses, Named
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
# How far behind a claim a comma does not part it from what puts it off, in tokens.
_CLOSE = 4
# How far back in its sentence a supposition is looked for, in tokens.
REACH = 30
# Right behind a claim these say that it was not on the board, is not yet, or is said of chess at large.
_NOT_DONE = frozenset((
    "missed", "overlooked", "follows", "coming", "looming", "possible", "available", "usually", "often", "always",
    "sometimes", "generally", "normally",
))  # fmt: skip
# These begin an order, besides what stands behind a stop.
_BEFORE_ORDER = frozenset(("just", "now", "so", "then", "simply", "first", "please", "and"))
_FIRM_VETOES = ("veto:plan", "veto:told", "veto:often")
_PLAIN_VETOES = ("veto:maybe", *_FIRM_VETOES)
# Verbs that state something, and forms run together with one.
_STATES = frozenset((
    "is", "are", "was", "were", "isn't", "aren't", "wasn't", "it's", "that's", "there's", "he's", "she's", "we're",
    "they're", "i'm", "you're", "has", "have", "had", "hasn't", "haven't", "we've", "i've", "they've", "stays",
    "stands", "remains", "keeps", "owns", "gives", "gets", "got",
))  # fmt: skip
# A sentence that begins so goes on with what the one before supposed.
_FOLLOWS = frozenset(("then", "now", "and", "so"))
# What begins so is said of the board before us, whatever the sentence before told.
_HERE = frozenset(("here", "but", "today", "anyway", "back", "look", "well", "okay"))
# Behind "or" and "well" these make it less than was said: "pinned, well, half pinned".
_LESS = frozenset((
    "was", "were", "almost", "nearly", "half", "not", "would", "will", "might", "is", "sort", "kind", "maybe",
    "perhaps",
))  # fmt: skip
_MEANT = frozenset(("really", "seriously", "honestly", "kidding", "joke", "doubt"))
_BUT = frozenset(("but", "though", "although", "except", "only"))
_HARDLY = frozenset(("really", "quite", "exactly", "yet", "truly", "actually", "in", "for"))
_HEDGES = frozenset((("sort", "of"), ("kind", "of"), ("in", "theory"), ("or", "so"), ("so", "to"), ("more", "or")))
# Tenses of another time.
_THEN = frozenset(("was", "were", "wasn't", "weren't", "did", "didn't", "would", "could", "might", "had", "hadn't"))
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
        marks = self.marked("veto:if", "veto:then", "veto:day")
        joined = False
        for at in range(core.first - 1, max(core.first - REACH, 0) - 1, -1):
            text, after_stop = self.tokens[at].text, at > 0 and bool(self.tokens[at - 1].stop)
            if text == "but" and after_stop:
                return -1
            if self.is_full_stop(at):
                return self.supposed_before(at + 1)
            if at in marks or (text == "or" and after_stop) or (joined and self.is_order(at)):
                return at
            joined = joined or text == "and" or self.ends(at + 1, ":")
        return -1

    def supposed_before(self, begin: int) -> int:
        """The token that supposes something in the sentence before one that begins at a token and follows from it:
        "suppose he takes. Then the rook hangs"; -1 for none."""
        if self.tokens[begin - 1].asks:
            return -1
        text, before = self.tokens[begin].text, range(self.sentence_start(begin - 1), begin)
        marks = self.marked("veto:if", "veto:day") if text in _FOLLOWS else self.marked("veto:day")
        found = next((at for at in before if at in marks), -1)
        # A story goes on until the words come back to the board.
        return -1 if text not in _FOLLOWS and text in _HERE else found

    def is_veiled(self, core: Symbol) -> bool:
        """Whether the sentence has spoken before a claim of what is told, wished, general or past, wherever it goes on
        from there: what is said of the board now stands in a sentence of its own or behind "but"."""
        lo = self.clause_start(core.first)
        if self.square(core.first - 2) and core.value in ("check", "mate"):
            # They hang on the move beside them.
            return False
        free = lo > 0 and self.tokens[lo - 1].stop == 1 and self.states(lo, core)
        marks = self.marked(*(_FIRM_VETOES if free else _PLAIN_VETOES))
        for at in range(core.first - 1, max(core.first - REACH, 0) - 1, -1):
            token = self.tokens[at]
            if self.is_full_stop(at) or (token.text == "but" and at and self.tokens[at - 1].stop):
                return False
            if at in marks or (token.text in _THEN and at not in self.plain) or self.is_name(at):
                return True
        return False

    def hangs_on(self, core: Symbol) -> bool:
        """Whether a claim without a verb opens a sentence that goes on about another time: "with the pawn isolated,
        Black would suffer"."""
        lo = self.clause_start(core.first)
        if self.states(lo, core) or core.value in ("check", "mate"):
            return False
        rest = self.tokens[core.last : core.last + BACK]
        stop = next((i + 1 for i, token in enumerate(rest) if token.stop == 2), len(rest))
        return self.tokens[core.last - 1].stop != 2 and not _THEN.isdisjoint(t.text for t in rest[:stop])

    def is_told_behind(self, core: Symbol) -> bool:
        """Whether a comma behind a claim brings whose word it is, or how little it is meant: "it's mate, says my
        nephew", "pinned, sort of"."""
        end = self.clause_end(core.last)
        if not self.tokens[core.last - 1].stop:
            # "It's mate on d8, says my nephew".
            stops = [i + 1 for i in range(core.last, end) if self.tokens[i].stop == 1]
            end = stops[0] if stops else end
        else:
            end = core.last
        if not (end and self.tokens[end - 1].stop == 1):
            return False
        behind = range(end, min(end + 3, len(self.tokens)))
        if behind and self.tokens[end].text in ("i", "i'd", "we", "we'd"):
            # "I think" is the speaker's own word.
            return self.tokens[min(end + 1, behind[-1])].text in _LESS
        told = [at for at in behind if at in self.marked("veto:told") and at not in self.plain]
        hedged = end + 1 < len(self.tokens) and (self.tokens[end].text, self.tokens[end + 1].text) in _HEDGES
        return bool(told) or hedged

    def is_name(self, at: int) -> bool:
        """Whether a token is written as somebody's name is, inside a sentence and without an article: an opening's name
        or a player's, whose board is another."""
        token, before = self.tokens[at], self.tokens[at - 1].text if at else ""
        plain = at in self.sides or at in self.men or len(token.text) == 1 or token.text[:2] == "i'"
        inside = not token.opens and before not in ("the", "a", "an")
        return inside and not plain and self.words[token.word][:1].isupper()

    def is_order(self, at: int) -> bool:
        """Whether an order begins at a token; with an "and" behind it, it supposes: "move the knight and the queen
        hangs"."""
        before = self.tokens[at - 1] if at else None
        return at in self.marked("order") and (before is None or bool(before.stop) or before.text in _BEFORE_ORDER)

    def is_unsaid(self, core: Symbol) -> bool:
        """Whether what stands around the clause takes the claim back: supposed before it ("would like e2, check"),
        bound to something behind it ("it's mate if he takes", "check would do it") or withdrawn ("mate, no, wait")."""
        if self.is_veiled(core):
            return True
        at = core.first
        bare = core.last - at == 1 or self.tokens[at].text in ("with", "giving")
        if (
            bare
            and at > 1
            and self.tokens[at - 1].stop == 1
            and self.in_clause("veto", replace(core, first=at - 1, last=at))
        ):
            return True
        if (
            self.hangs_on(core)
            or self.is_told_behind(core)
            or self.is_to_come(core.last)
            or self.is_bound(core)
            or self.is_of_another_day(core)
        ):
            return True
        for i in range(core.last, min(core.last + BACK, len(self.tokens))):
            if i >= core.last + _CLOSE and self.tokens[i - 1].stop:
                break
            text = self.tokens[i].text
            if i == core.last and (self.tokens[i - 1].stop or text in _BUT) and self.is_lessened(i):
                return True
            if text in _TAKEN_BACK and i == core.last and self.tokens[i - 1].stop:
                return self.takes_back(i)
            if self.tokens[i - 1].stop == 2:
                break
            later = text in _LATER and self.tokens[i - 1].text != "at"
            if text in _NOT_DONE and not any(t.stop for t in self.tokens[core.last - 1 : i]):
                return True
            if i in self.marks.get("veto:if", ()) or (later and self.tokens[i + 1 : i + 2] and not self.counts(i + 1)):
                return True
        return False

    def states(self, lo: int, core: Symbol) -> bool:
        """Whether the clause of a core that begins at `lo` has a verb of its own: not "forking king and rook", nor
        "with a fork"."""
        if any(t.text in _STATES or t.text.endswith("'s") for t in self.tokens[lo : core.last]):
            return True
        text = self.tokens[core.first].text
        return core.kind == "claim" and core.first in self.marked("finite") and text not in ("with", "giving")

    def is_bound(self, core: Symbol) -> bool:
        """Whether a claim without a verb hangs on words that are no claim: on the clause before it ("he threatens b4,
        with a fork"), or on a question of plans that it answers ("what's the threat? a fork")."""
        lo = self.clause_start(core.first)
        if self.states(lo, core) or core.value in ("check", "mate"):
            # Check and mate hang on the move beside them.
            return False
        if lo and (self.tokens[lo - 1].stop == 1 or self.ends(lo, ":")):
            before = self.clause_start(lo - 1)
            # "Or" and the like open the clause before, and are not among its tokens.
            opener = int(before > 0 and not self.tokens[before - 1].stop)
            # What supposes holds for the whole sentence, and may be shown on the board.
            if not self.marked(*_PLAIN_VETOES).isdisjoint(range(before - opener, lo)):
                return True
        begin = self.sentence_start(lo)
        if any(t.text in _STATES for t in self.tokens[begin:lo]):
            return False
        while begin and self.tokens[begin - 1].asks:
            before = self.sentence_start(begin - 1)
            if not self.marked("veto:plan", "veto:if").isdisjoint(range(before, begin)):
                return True
            begin = before
        return False

    def ends(self, at: int, mark: str) -> bool:
        """Whether the words before a token end with a mark."""
        return self.words[self.tokens[at - 1].word].endswith(mark)

    def sentence_start(self, token: int) -> int:
        """The first token of the sentence that a token is in, or of as much of it as is looked at."""
        begin = token
        while begin and not self.is_full_stop(begin - 1) and token - begin < REACH:
            begin -= 1
        return begin

    def is_full_stop(self, at: int) -> bool:
        """Whether a sentence ends behind a token: not at a colon, which says whose word follows, or where it is so."""
        return self.tokens[at].stop == 2 and not self.ends(at + 1, ":")

    def begins_anew(self, at: int) -> bool:
        """Whether a "but" behind a stop leaves what its sentence has told before."""
        return self.tokens[at].text == "but" and at > 0 and bool(self.tokens[at - 1].stop)

    def is_of_another_day(self, core: Symbol) -> bool:
        """Whether words behind a claim put it on another day or in another game ("was pinned, that evening"), or say
        that what was so is so no more ("was pinned until he castled", "was hanging, but now")."""
        past = any(t.text in ("was", "were", "had") for t in self.tokens[self.clause_start(core.first) : core.last])
        for i in range(core.last, min(core.last + 2 * BACK, len(self.tokens))):
            text, stop = self.tokens[i].text, self.tokens[i - 1].stop
            if stop == 2:
                return False
            lasting = text == "for" and i + 1 < len(self.tokens) and self.counts(i + 1)
            if past and (
                lasting or text in ("until", "till", "before", "earlier") or (text == "but" and self.turns(i + 1))
            ):
                return True
            if text in ("but", "and", "so", "because") and stop and not self.is_lessened(i):
                return False
            if i in self.marked("veto:day") or (stop and text in _BUT and self.is_lessened(i)):
                return True
        return False

    def turns(self, at: int) -> bool:
        """Whether what follows "but" at a token is of a later time."""
        return self.tokens[min(at, len(self.tokens) - 1)].text in ("now", "after", "then", "no", "since")

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
        if self.tokens[at].text == "no" and self.tokens[at].stop and self.tokens[at - 1].stop == 2:
            # "It's stalemate. No: it's mate."
            return following not in _MEANT
        parted = self.tokens[at - 1].stop == 1 or self.tokens[at].text in ("wait", "sorry")
        return (parted and alone) or following in _TAKEN_BACK

    def is_lessened(self, at: int) -> bool:
        """Whether words behind a stop make a claim before it less than it was: "pinned, or was", "well, half pinned",
        "though not really"."""
        first, *rest = [token.text for token in self.tokens[at : at + 3]]
        if first in ("or", "well"):
            return bool(rest) and rest[0] in _LESS
        if first == "so":
            # "So you're a pawn down, so what": of any who is.
            return rest[:1] == ["what"]
        if first in _BUT and rest[:1] and rest[0] in ("isn't", "aren't", "doesn't", "don't"):
            # "The rook is pinned, but isn't".
            return True
        return first in _BUT and rest[:1] == ["not"] and not _HARDLY.isdisjoint(rest)

    def counts(self, at: int) -> bool:
        """Whether a number is spoken at a token: "after two moves"."""
        return self.tokens[at].text in NUMBER_WORDS or self.tokens[at].text.isdigit()

    # ----------------------------------------------------------------------------------------------- of whom it is said

    def referred(self, core: Symbol, lo: int) -> list[Named]:
        """The man that "it" or an "and" stands for before a core whose clause, from `lo` on, names none: "the knight on
        c3? It's pinned"."""
        said = {self.tokens[at].text for at in range(lo, core.first)} | ({self.tokens[core.first].text} & _IT)
        if said and _IT.isdisjoint(said):
            return []
        if not said and (not lo or self.tokens[lo - 1].text not in ("and", "but")):
            return []
        return self.antecedent(lo) or self.named_late(core.last)

    def named_late(self, last: int) -> list[Named]:
        """The man that "it" stands for where he is named behind a comma: "it's hanging, that knight"."""
        for at in range(last, min(last + 4, len(self.tokens) - 1)):
            stop, following = self.tokens[at - 1].stop, self.tokens[at].text
            if stop:
                late = stop == 1 and following in ("that", "the", "this", "his", "her")
                return self.named_men(at, min(at + 5, len(self.tokens)))[:1] if late else []
        return []

    def antecedent(self, lo: int) -> list[Named]:
        """The only man named in the sentence before its clause at `lo`, or in the question before it; [] for none."""
        begin = lo
        while begin and self.tokens[begin - 1].stop != 2 and lo - begin < REACH:
            begin -= 1
        men = self.doers(begin, lo)
        if not men and begin and self.tokens[begin - 1].asks:
            before = begin - 1
            while before and self.tokens[before - 1].stop != 2 and begin - before < REACH:
                before -= 1
            men = self.doers(before, begin)
        return men if len(men) == 1 else []

    def doers(self, lo: int, hi: int) -> list[Named]:
        """The men named within tokens [lo, hi), without those who do it ("by"), those who move ("rook e1"), squares."""
        men = [n for n in self.named_men(lo, hi) if n.man.piece]
        men = [n for n in men if not (n.man.square and self.square(n.first + 1))]
        return [n for n in men if "by" not in (t.text for t in self.tokens[max(n.first - 3, lo) : n.first])]
