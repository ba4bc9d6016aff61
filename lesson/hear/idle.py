"""What claim words lack that makes them other talk: said of chess at large, of no man, as a figure of speech. Knows no
board."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise

from lesson.hear.clauses import BACK, Named
from lesson.hear.grammar import Symbol
from lesson.hear.supposed import REACH, Supposed
from lesson.hear.tokens import NUMBER_WORDS

# Kinds whose subject, before the words, does it to what stands behind them; the others say it of their subject.
ACTIVE = frozenset(("fork", "pin", "skewer", "discovered", "defends", "attacks", "controls", "aims", "loose"))
# Done to men, so that one must be named; files are no men.
OF_MEN = frozenset(("pinned", "skewered", "hanging", "loose", "defended", "attacked"))
SORTS = frozenset(("passed", "isolated", "doubled", "halfopen"))
MANY = {"a": 1, "an": 1, "extra": 1, **{word: int(digit) for word, digit in NUMBER_WORDS.items()}}
ARTICLES = frozenset(("a", "an", "the", "one", "this", "that", "another"))
# Words of moves that "check" alone may stand behind, besides men and squares.
_MOVING = frozenset(("takes", "take", "captures", "castles", "castle", "back", "recaptures", "promotes", "it's", "is"))
# Those of them that say nothing of a board unless a man or a square stands behind them.
_NEEDS_TARGET = frozenset(("defends", "attacks", "controls", "aims", "loose"))
_MOTIFS = frozenset(("fork", "pin", "skewer"))
_ONE = frozenset(("a", "an", "one", "another"))
_IS = frozenset(
    ("is", "are", "was", "were", "isn't", "aren't", "stays", "stands", "remains", "gets", "it's", "being", "now")
)
_AFTER_CHECK = frozenset(("from", "on", "with", "by", "and", "again", "along", "to", "at", "king"))
# Before "pinned" or "hanging" these make it the attribute of what follows.
_ATTRIBUTIVE = ARTICLES - {"that", "one", "this"} | {"his", "her", "my", "your", "our", "their", "its"}
_COUNTING = frozenset((
    "material", "material's", "materially", "count", "counting", "wood", "each", "captured", "points", "dead", "pieces",
    "pawns", "wise",
))  # fmt: skip
# Before a participle these make it something that is done, or not, some time.
_DOING = frozenset((
    "by", "of", "from", "for", "without", "before", "after", "instead", "than", "avoid", "consider", "like", "about",
    "start", "started", "stop", "stops", "try", "tried", "worth", "when", "while", "if",
))  # fmt: skip
_ANY = frozenset(("a", "an"))
_OWNERS = frozenset((
    "he", "she", "we", "they", "i", "you", "he's", "she's", "we've", "i've", "you've", "they've", "nobody", "neither",
))  # fmt: skip
_WING = frozenset(("kingside", "queenside", "wing", "flank", "sector"))
# Before "undefended piece" these pick one out of many, and the words say more than that it is so.
_PICKED = frozenset(("only", "least", "most"))
_FOR = frozenset(("to", "for", "with"))
# Words for a thing that somebody has, or that is there.
_THINGS = SORTS | {"open", "pair", "opposite", "up", "down"}
# Meanings of words that are understood beside a claim.
_UNDERSTOOD = frozenset((
    "usual", "man", "side", "claim", "done", "deny", "every", "plain", "aside", "firm", "link", "absolute", "relative",
))  # fmt: skip
# What does it, where no man is named.
_DEEDS = frozenset((
    "it", "he", "she", "they", "we", "i", "you", "that", "this", "which", "who", "move", "check", "push", "capture",
    "jump", "recapture", "threat", "piece", "man", "fellow", "lady", "other", "same", "one", "two", "diagonal", "file",
    "battery", "fianchetto", "chap", "monarch", "majesty", "cavalry", "beast",
))  # fmt: skip
# Behind "by" or "to" these may stand for a man.
_PRONOUNS = frozenset((
    "it", "him", "her", "them", "nothing", "nobody", "anything", "anybody", "something", "everything", "both", "ours",
    "yours", "mine", "theirs", "his", "hers",
))  # fmt: skip


class Idle(Supposed):
    """The clauses of a talk, and whether what stands in them beside a claim's words makes a claim of those."""

    def is_attribute(self, core: Symbol) -> bool:
        """Whether "pinned" or "hanging" is said of the man behind it in passing: "the undefended rook"."""
        if core.last in self.men and not self.tokens[core.last - 1].stop:
            return True
        at = core.first - 1
        return at >= 0 and not self.tokens[at].stop and (at in self.sides or self.tokens[at].text in _ATTRIBUTIVE)

    def is_idle(self, core: Symbol, lo: int, targets: Sequence[Named]) -> bool:
        """Whether the clause lacks what some claim words need: "check" alone a move beside it, bishops an owner, what
        is attacked or hangs a name. Without it they are other talk: a hanging garden, meat on a skewer."""
        kind, single = core.value, core.last - core.first == 1
        firm = self.marks.get("firm", set())
        if self.is_gerund(core) or self.is_figure(core) or self.is_strange(core, lo):
            return True
        if kind in SORTS and core.kind == "claim" and self.is_at_large(core, lo):
            return True
        if kind in SORTS and core.kind == "done" and not targets and not self.has_file(core):
            return True
        if kind == "uncastled" and not self.has_owner(core):
            return True
        if kind == "level" and not self.is_of_material(core):
            return True
        if kind in ("pair", "opposite"):
            if self.tokens[lo].text == "with" and core.first - lo < 4 and not self.side_in(core):
                # "With bishops of opposite colours the attacker is stronger" is said of chess.
                return True
            return firm.isdisjoint(range(max(core.first - BACK, 0), core.last))
        if kind in ("up", "down") and not (self.states(lo, core) or self.sides.keys() & set(range(lo, core.first))):
            return self.tokens[lo].text != "with"
        if kind in ("up", "down") and self.is_trade(core, lo):
            return True
        if kind in ("up", "down", "level") and self.is_of_a_wing(core, lo):
            return True
        if kind == "discovered" and lo == core.first and self.tokens[core.last - 1].stop == 2:
            # The heading of a chapter.
            return True
        if core.kind == "done" and self.is_attribute(core) and self.is_any(core, lo):
            return True
        if core.kind == "done" and kind in OF_MEN:
            if targets and self.is_one_of_many(targets[-1], lo):
                return True
            picked = {t.text for t in self.tokens[max(core.first - 2, lo) : core.first]} & _PICKED
            if picked and self.is_attribute(core):
                return True
            # "The pinned knight" names a man; it claims little.
            if kind == "pinned" and self.is_attribute(core):
                return True
            if kind in ("attacked", "defended") and targets and core.last - core.first == 1:
                # "A knight attacked, a knight defended" tells moves.
                is_ = targets[-1].first < lo or any(self.is_verb(at) for at in range(max(lo - 1, 0), core.first))
                if not is_ and "by" not in (t.text for t in self.tokens[core.last : core.last + 2]):
                    return True
            denied = bool(self.in_clause("deny", core, 4))
            return not targets and (
                denied or kind not in ("pinned", "skewered") or firm.isdisjoint(range(lo, core.first))
            )
        if core.kind == "claim" and kind in ACTIVE and self.is_of_others(core, lo):
            return True
        if core.kind == "claim" and kind in _NEEDS_TARGET:
            return not targets or (kind == "aims" and not self.named_men(lo, core.first) and not self.square(lo - 2))
        if core.kind == "claim" and kind in _MOTIFS and single and not targets:
            ones = [at for at in range(max(lo, core.first - 2), core.first) if self.tokens[at].text in _ONE]
            alone = self.tokens[core.last - 1].stop == 2 and core.first - lo <= 2
            # "A knight fork" names no move.
            return not ones or not (alone or self.has_move(lo, ones[0]) or not firm.isdisjoint(range(lo, core.first)))
        if kind == "check" and single and lo < core.first:
            return not self.has_move(lo, core.first)
        if kind == "check" and single and not self.tokens[lo].stop and lo + 1 < len(self.tokens):
            # "Check under your chairs" is an order.
            return self.tokens[lo + 1].text not in _AFTER_CHECK
        if kind == "mate" and single and lo == core.first and self.tokens[lo].text == "mate":
            # "Rook d8, mate", but "come on, mate".
            if lo and self.tokens[lo - 1].stop == 1:
                return not self.has_move(self.clause_start(lo - 1), lo)
            return self.tokens[lo].stop == 1
        return False

    def is_strange(self, core: Symbol, lo: int) -> bool:
        """Whether a word stands in the clause of a claim that the grammar does not know to leave it what it is:
        somebody's name, another thing the claim is said of, what becomes of it."""
        hi = self.clause_end(core.last)
        complete = core.value in ("check", "mate")
        bare = not complete and core.value not in ("uncastled", "cannotcastle") and not self.states(lo, core)
        if bare and lo and self.tokens[lo - 1].stop == 1:
            # Without a verb it is said of what the clause before tells.
            lo = self.clause_start(lo - 1)
        # What stands behind a comma, or says for what a thing is good, says no more what it is.
        stops = (at + 1 for at in range(core.last - 1, hi) if self.tokens[at].stop)
        good_for = core.kind == "claim" and core.value in _THINGS and self.tokens[min(core.last, hi - 1)].text in _FOR
        if complete and self.square(core.first - 2):
            lo = core.first
        hi = core.last if good_for or complete else min(hi, next(stops, hi))
        lo = self.story_start(lo, core)
        beside = [*range(lo, core.first), *range(core.last, hi)]
        return any(not self.is_usual(at) for at in beside)

    def story_start(self, lo: int, core: Symbol) -> int:
        """Where the words begin that may make a claim, whose clause begins at `lo`, part of another story: what its
        sentence has told before it, unless that names a square; then the claim is of this board."""
        begin = lo
        while begin and self.tokens[begin - 1].stop != 2 and not self.begins_anew(begin - 1):
            begin -= 1
            if lo - begin > REACH:
                return lo
        before = lo
        if core.value in ("check", "mate") and lo == core.first and lo and self.tokens[lo - 1].stop == 1:
            # The move beside it is not what the sentence has told before.
            before = self.clause_start(lo - 1)
        return lo if any(map(self.square, range(begin, before))) else begin

    def is_trade(self, core: Symbol, lo: int) -> bool:
        """Whether a man is given for another: "a queen for a bishop up", "down a queen for a bishop"."""
        if "for" in (t.text for t in self.tokens[max(lo, core.first - 4) : core.first]):
            return True
        behind = self.tokens[core.last].text if core.last < len(self.tokens) else ""
        given = range(core.last + 1, core.last + 4)
        return behind == "for" and not self.tokens[core.last - 1].stop and not self.men.keys().isdisjoint(given)

    def has_owner(self, core: Symbol) -> bool:
        """Whether the sentence of a claim names a side, a king or who they are: "castling is gone" alone is any's."""
        said = range(self.sentence_start(core.first), min(core.last + BACK, len(self.tokens)))
        return any(at in self.sides or self.tokens[at].text in _OWNERS for at in said)

    def is_of_a_wing(self, core: Symbol, lo: int) -> bool:
        """Whether men are counted where they stand, not all of them: "an extra piece on the kingside"."""
        hi = self.clause_end(core.last)
        return any(t.text in _WING for t in self.tokens[lo:hi])

    def is_usual(self, at: int) -> bool:
        """Whether a word leaves a claim what it is: a man, a square, one of the grammar's, an adverb, how a man is."""
        text = self.tokens[at].text
        if at in self.understood or text.endswith("ly") or len(text) == 1:
            return True
        placed = at + 1 in self.men or at + 1 in self.sides
        before = self.tokens[at - 1].text if at else ""
        return placed and (at - 1 in self.sides or before in ARTICLES or before in _ATTRIBUTIVE)

    @cached_property
    def understood(self) -> set[int]:
        """The tokens of which the grammar says what they do to a claim."""
        return {at for s in self.symbols if s.kind in _UNDERSTOOD for at in range(s.first, s.last)}

    def is_gerund(self, core: Symbol) -> bool:
        """Whether a participle is named as something to do, or not to: "by pinning it", "instead of forking"."""
        before = self.tokens[core.first - 1] if core.first else None
        ing = self.tokens[core.first].text.endswith("ing") and core.kind == "claim"
        return ing and before is not None and not before.stop and before.text in _DOING

    def is_figure(self, core: Symbol) -> bool:
        """Whether what stands behind "pinned to" or "guarded by" is no man: the floor, distance, the law."""
        at = core.last
        if core.kind != "done" or at + 1 >= len(self.tokens) or self.tokens[at - 1].stop:
            return False
        text, hi = self.tokens[at].text, self.clause_end(at + 1)
        if core.value == "hanging" and text == "on":
            return not self.square(at + 1)
        if core.value in ("pinned", "skewered") and text in ("to", "against", "onto"):
            return not self.named_men(at + 1, min(hi, at + 8)) and self.tokens[at + 1].text not in _PRONOUNS
        if core.value in ("defended", "attacked") and text == "by":
            behind = self.tokens[at + 1 : min(hi, at + 7)]
            named = self.named_men(at + 1, min(hi, at + 7)) or self.sides.keys() & set(range(at + 1, at + 5))
            return not named and all(t.text not in _PRONOUNS and t.text not in MANY for t in behind)
        return False

    def side_in(self, core: Symbol) -> bool:
        """Whether a colour is named in the clause of a core, or right behind it."""
        return any(at in self.sides for at in range(self.clause_start(core.first), core.last + 5))

    def is_any(self, core: Symbol, lo: int) -> bool:
        """Whether "a hanging piece" is said of any: nobody has it, and it stands nowhere."""
        before = self.tokens[core.first - 1].text if core.first else ""
        firm = self.marks.get("firm", set())
        placed = any(n.man.square for n in self.named_men(core.last, self.clause_end(core.last)))
        return before in ("a", "an") and not placed and firm.isdisjoint(range(lo, core.first))

    def is_one_of_many(self, named: Named, lo: int) -> bool:
        """Whether it is said of any such man: "a defended piece isn't hanging"; not of one that somebody has."""
        before = [t.text for t in self.tokens[max(named.first - 2, lo) : named.first]]
        told = named.man.square or named.man.file or named.man.side
        firm = self.marks.get("firm", set())
        return not told and not _ANY.isdisjoint(before) and firm.isdisjoint(range(lo, named.first))

    def is_of_material(self, core: Symbol) -> bool:
        """Whether "it's level" is said of the count of men, not of who stands better."""
        begin = self.sentence_start(core.first)
        counted = not _COUNTING.isdisjoint(t.text for t in self.tokens[begin : core.last + 3])
        return counted or any(at in self.men for at in range(begin, core.first))

    def is_of_others(self, core: Symbol, lo: int) -> bool:
        """Whether the verb of a claim has a subject of which nobody knows what it is: "the dentist hits the lady"."""
        said = range(lo, core.first)
        if core.first not in self.marked("finite") or not said or self.has_move(lo, core.first):
            return False
        texts = {self.tokens[at].text for at in said}
        return "the" in texts and texts.isdisjoint(_DEEDS) and self.sides.keys().isdisjoint(said)

    def is_at_large(self, core: Symbol, lo: int) -> bool:
        """Whether pawns or files of a sort are spoken of without saying that somebody has them: "an isolated pawn is a
        weakness", "rooks love the open file"."""
        at = core.first - 1
        while at >= lo and at >= core.first - 3 and self.tokens[at].text not in ARTICLES:
            if at in self.sides or self.tokens[at].text in _ATTRIBUTIVE or self.tokens[at].text in MANY:
                return False
            at -= 1
        # "That" may open the clause.
        if at >= 0 and core.first - at <= 3 and self.tokens[at].text in ("the", "this", "that"):
            return False
        firm = self.marks.get("firm", set())
        placed = any(n.man.square or n.man.file for n in self.named_men(core.first, self.clause_end(core.last)))
        inside = [self.tokens[i].text for i in range(core.first, core.last)]
        return not placed and not self.files(inside, core, lo) and firm.isdisjoint(range(lo, core.first))

    def has_file(self, core: Symbol) -> bool:
        """Whether the words of a claim name a file: "the b-file is half open", "the g-pawn's passed"."""
        return any(self.is_file(at) for at in range(core.first, core.last))

    def is_verb(self, at: int) -> bool:
        """Whether a token says that something is: "is", "stays", the end of "the knight's"."""
        text = self.tokens[at].text
        return text in _IS or (at in self.men and text.endswith("'s"))

    def has_move(self, lo: int, hi: int) -> bool:
        """Whether a man, a square or a word of moves is among the tokens [lo, hi)."""
        return any(at in self.men or self.square(at) or self.tokens[at].text in _MOVING for at in range(lo, hi))

    def files(self, inside: Sequence[str], core: Symbol, lo: int) -> tuple[str, ...]:
        """Files named in the core, before the word pawn of it, or as "on the c-file"."""
        found = [text for text in inside if len(text) == 1 and text in "abcdefgh"]
        if core.value in ("open", "halfopen"):
            return tuple(found)
        if core.value not in ("passed", "isolated", "doubled"):
            return ()
        found = [text for text, after in pairwise(inside) if text in tuple("abcdefgh") and after[:4] == "pawn"]
        for at in range(core.last, min(core.last + 4, len(self.tokens) - 1)):
            if self.tokens[at - 1].stop:
                break
            if len(self.tokens[at].text) == 1 and self.tokens[at + 1].text == "file":
                found.append(self.tokens[at].text)
        return tuple(found)
