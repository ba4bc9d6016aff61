"""What the words of a talk say about a position that a board can confirm or deny. Knows no board.

Cautious, as with verdicts: what is supposed, planned, asked, reported or said of chess at large is no claim. The words
and their meanings are in grammars/en-claims.toml; here is only who and what a claim is about.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from lesson.hear.clauses import BACK, Man, Named, Side
from lesson.hear.grammar import Symbol
from lesson.hear.names import find_names
from lesson.hear.supposed import Supposed
from lesson.hear.tokens import NUMBER_WORDS

_ARTICLES = frozenset(("a", "an", "the", "one", "this", "that", "another"))
# Words of moves that "check" alone may stand behind, besides men and squares.
_MOVING = frozenset(("takes", "take", "captures", "castles", "castle", "back", "recaptures", "promotes", "it's", "is"))
_MANY = {"a": 1, "an": 1, "extra": 1, **{word: int(digit) for word, digit in NUMBER_WORDS.items()}}
# Kinds whose subject, before the words, does it to what stands behind them; the others say it of their subject.
_ACTIVE = frozenset(("fork", "pin", "skewer", "discovered", "defends", "attacks", "controls", "aims", "loose"))
# Those of them that say nothing of a board unless a man or a square stands behind them.
_NEEDS_TARGET = frozenset(("defends", "attacks", "controls", "aims", "loose"))
_MOTIFS = frozenset(("fork", "pin", "skewer"))
_ONE = frozenset(("a", "an", "one", "another"))
_IS = frozenset(
    ("is", "are", "was", "were", "isn't", "aren't", "stays", "stands", "remains", "gets", "it's", "being", "now")
)
_AFTER_CHECK = frozenset(("from", "on", "with", "by", "and", "again", "along", "to", "at", "king"))
# Before "pinned" or "hanging" these make it the attribute of what follows.
_ATTRIBUTIVE = _ARTICLES - {"that", "one", "this"} | {"his", "her", "my", "your", "our", "their", "its"}


@dataclass(frozen=True, slots=True)
class Claim:
    """A claim made by words [first, last); the words it turns on begin at `core`.

    `kind` is a "claim:" or "done:" of the grammar. `side` is whom it is said of, "" where no colour was named. `agents`
    are the men that do it, `targets` the men or squares it is done to, `behind` the men behind a pinned one. `files`
    are letters; `number` how many men (of letter `piece`, "X" for the exchange), or moves to mate. `manner` narrows
    a kind ("absolute", "relative", "in" for a side in check, "extra" for men counted whatever the rest, "shift" for
    another move order). `lines` are the moves an opening's name stands for. `denied` says that the claim is that it is
    not so, `every` that it is said of all the men named ("both rooks hang"), `supposed` the word since which its
    sentence supposes something, -1 for none.
    """

    first: int
    last: int
    core: int
    kind: str
    side: Side = ""
    agents: tuple[Man, ...] = ()
    targets: tuple[Man, ...] = ()
    behind: tuple[Man, ...] = ()
    files: tuple[str, ...] = ()
    number: int = 0
    piece: str = ""
    manner: str = ""
    lines: tuple[tuple[str, ...], ...] = ()
    denied: bool = False
    every: bool = False
    supposed: int = -1


def find_claims(words: Sequence[str], supposed: bool = False) -> list[Claim]:
    """The claims in a talk's words, in order of the words they turn on; with `supposed` also those of sentences that
    suppose something, which may have been shown on the board before the claim was made.

    Raises: DataError if the grammar of claims is missing or broken.
    """
    search = _Search(words, supposed)
    return sorted([*search.claims(), *search.named()], key=lambda claim: (claim.core, claim.last))


class _Search(Supposed):
    """The claims in the clauses of a talk; with `supposing` also what is supposed."""

    def __init__(self, words: Sequence[str], supposing: bool) -> None:
        super().__init__(words)
        self.supposing = supposing

    @cached_property
    def cores(self) -> list[Symbol]:
        """The words claims turn on, without those inside longer ones or inside words of another meaning."""
        whole = [s for s in self.symbols if not any(map(self.parts, range(s.first, s.last - 1)))]
        found = [s for s in whole if s.kind in ("claim", "done")]
        void = [s for s in whole if s.kind == "void"]
        return [s for s in found if not any(_inside(s, other) for other in (*found, *void))]

    def parts(self, at: int) -> bool:
        """Whether a stop behind a token parts what the grammar takes together: not "the e-file, which is open"."""
        return self.tokens[at].stop == 2 or (self.tokens[at].stop == 1 and self.tokens[at + 1].text != "which")

    def claims(self) -> Iterator[Claim]:
        end = 0
        for core in self.cores:
            if core.first < end or self.asked(core.last) or self.in_clause("veto", core):
                continue
            since = self.supposed(core)
            if (since >= 0 and not self.supposing) or self.is_unsaid(core):
                continue
            claim = self.made(core)
            if claim is not None:
                end = core.last
                yield claim if since < 0 else replace(claim, supposed=self.tokens[since].word)

    def made(self, core: Symbol) -> Claim | None:
        lo, hi = self.clause_start(core.first), self.clause_end(core.last)
        kind = core.value
        agents, targets, behind = self.around(core, lo, hi)
        if self.is_idle(core, lo, targets) or self.is_of_some(core, targets):
            return None
        inside = [self.tokens[i].text for i in range(core.first, core.last)]
        used = [*agents, *targets, *behind]
        denials = self.denials(core)
        if len(denials) > 1:
            return None
        # A man that "it" stands for was named in another clause.
        used = [n for n in used if n.first >= lo]
        first = min([core.first, *(n.first for n in used)])
        last = max([core.last, *(n.last for n in used)])
        number, piece = _amount(inside, [s for i, s in self.men.items() if core.first <= i < core.last])
        return Claim(
            self.tokens[first].word,
            self.tokens[last - 1].word + 1,
            self.tokens[core.first].word,
            kind,
            self.subject(lo, core),
            _men(agents),
            _men(targets),
            _men(behind),
            self.files(inside, core, lo),
            number,
            piece,
            self.manner(core, lo, inside),
            denied=bool(denials),
            every=bool(self.in_clause("every", core, 6) or self.inside("every", core)),
        )

    def inside(self, kind: str, core: Symbol) -> list[int]:
        return [at for at in range(core.first, core.last) if at in self.marks.get(kind, ())]

    def denials(self, core: Symbol) -> list[int]:
        """The tokens that turn the claim into its opposite; two where the words are not understood."""
        kind = core.value
        if kind in ("loose", "uncastled", "cannotcastle", "onlylegal"):
            # Their own words deny.
            return []
        found = self.in_clause("deny", core, 4)
        if kind not in ("hanging", "pinned", "defended", "attacked", "stalemate"):
            found += self.inside("deny", core)
        partly = any(at + 1 < core.first and self.tokens[at + 1].text == "of" for at in found)
        plainly = kind in _DENIED_NOW and all(self.tokens[at].text in _NOW for at in found)
        if (partly and core.kind == "claim") or (found and kind not in _DENIABLE and not plainly):
            return [0, 0]
        return found

    def is_of_some(self, core: Symbol, targets: Sequence[Named]) -> bool:
        """Whether the man is one the words narrow down further than a `Man` can: "White's passed pawns are safe"."""
        narrowed = [n for s in self.cores if s.value in _NARROWING and s != core for n in targets if _covers(s, n)]
        return core.value in _OF_MEN and any(not n.man.square for n in narrowed)

    def around(self, core: Symbol, lo: int, hi: int) -> tuple[list[Named], list[Named], list[Named]]:
        """The men in the clause of a core that do it, that it is done to, and that stand behind those."""
        kind = core.value
        before = self.named_men(lo, core.first)
        after = self.run(self.named_men(core.last, hi), core.last)
        if core.kind == "claim" and kind in _ACTIVE:
            if not after and core.last < len(self.tokens) and self.tokens[core.last].text == "it":
                # "The rook guards it" may mean a square or a move; "nobody guards it" is said of a man.
                after = self.antecedent(lo) if kind == "loose" else []
            agents = [] if core.first and self.tokens[core.first - 1].text in _ARTICLES else before[-1:]
            behind = self.split(after)
            targets = after[: len(after) - len(behind)]
            if kind in ("pin", "skewer") and not behind:
                targets, behind = self.turned(targets)
            return agents, targets, behind
        if core.kind == "done":
            if self.is_attribute(core):
                return [], after[:1] if core.last in self.men else [], []
            behind = self.linked(core.last, hi) if kind in ("pinned", "skewered") else []
            if not before and kind in _SORTS:
                before = self.referred(core, lo)
            if kind in _OF_MEN and kind not in ("pinned", "skewered") and not before:
                before = self.referred(core, lo)
            return self.by_whom(core.last, hi), before[-1:], behind
        pawns = [n for n in (*before[-1:], *after) if n.man.piece in ("P", "")]
        return [], pawns if kind in ("passed", "isolated", "doubled") else [], []

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
        if self.is_gerund(core) or self.is_figure(core):
            return True
        if kind in _SORTS and core.kind == "claim" and self.is_at_large(core, lo):
            return True
        if kind in _SORTS and core.kind == "done" and not targets and not self.has_file(core):
            return True
        if kind == "level" and not self.is_of_material(core):
            return True
        if kind in ("pair", "opposite"):
            if self.tokens[lo].text == "with" and core.first - lo < 4 and not self.side_in(core):
                # "With bishops of opposite colours the attacker is stronger" is said of chess.
                return True
            return firm.isdisjoint(range(max(core.first - BACK, 0), core.last))
        if kind in ("up", "down") and "for" in (t.text for t in self.tokens[max(lo, core.first - 4) : core.first]):
            # "A queen for a bishop up" is a trade.
            return True
        if kind == "discovered" and lo == core.first and self.tokens[core.last - 1].stop == 2:
            # The heading of a chapter.
            return True
        if core.kind == "done" and self.is_attribute(core) and self.is_any(core, lo):
            return True
        if core.kind == "done" and kind in _OF_MEN:
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
        if core.kind == "claim" and kind in _ACTIVE and self.is_of_others(core, lo):
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
        if core.value in ("pinned", "skewered") and text in ("to", "against", "onto"):
            return not self.named_men(at + 1, min(hi, at + 8)) and self.tokens[at + 1].text not in _PRONOUNS
        if core.value in ("defended", "attacked") and text == "by":
            behind = self.tokens[at + 1 : min(hi, at + 7)]
            named = self.named_men(at + 1, min(hi, at + 7)) or self.sides.keys() & set(range(at + 1, at + 5))
            return not named and all(t.text not in _PRONOUNS and t.text not in _MANY for t in behind)
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
        while at >= lo and at >= core.first - 3 and self.tokens[at].text not in _ARTICLES:
            if at in self.sides or self.tokens[at].text in _ATTRIBUTIVE or self.tokens[at].text in _MANY:
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

    # ---------------------------------------------------------------------------------------- openings by their names

    def named(self) -> Iterator[Claim]:
        """An opening's name behind words that say it is on the board."""
        for frame in (s for s in self.symbols if s.kind == "frame"):
            if self.asked(frame.last) or self.in_clause("veto", frame) or self.in_clause("deny", frame, 4):
                continue
            if any(self.tokens[i].stop for i in range(frame.first, frame.last - 1)):
                continue
            # Names are looked for only here: to search the whole talk takes seconds.
            word, start = self.tokens[frame.first].word, self.tokens[frame.last - 1].word
            hit = next(iter(find_names(self.words[start : start + _LONGEST_NAME])), None)
            if hit is None or hit.first > 1 or hit.cost > _CLEAR or self.tokens[frame.last - 1].stop:
                continue
            if self.is_varied(hit.last + start):
                continue
            lines = tuple(dict.fromkeys(name.moves for name in hit.names))
            manner = "shift" if frame.value == "shift" else ""
            yield Claim(word, start + hit.last, word, "opening", manner=manner, lines=lines)

    def is_varied(self, word: int) -> bool:
        """Whether an opening's name that ends before `word` is said of something like it: with colours reversed, a
        tempo up, wearing another's hat."""
        around = [token.text for token in self.tokens if word - 20 <= token.word < word + 16]
        stops = any(token.stop for token in self.tokens if token.word == word - 1)
        behind = next((token.text for token in self.tokens if token.word >= word and not stops), "")
        return not _VARIED.isdisjoint(around) or behind in ("with", "wearing", "without")

    def subject(self, lo: int, core: Symbol) -> Side:
        """The colour named as such, not as the colour of a man."""
        for at in range(lo, core.last):
            if at in self.sides and not any(i in self.men for i in range(at + 1, min(at + 3, core.last))):
                return self.sides[at]
        inside = [self.sides[at] for at in range(lo, core.last) if at in self.sides]
        return inside[0] if inside and core.value in _OF_A_SIDE else ""

    def manner(self, core: Symbol, lo: int, inside: Sequence[str]) -> str:
        for kind in ("absolute", "relative"):
            if any(s.kind == kind and lo <= s.first < core.last + 1 for s in self.symbols):
                return kind
        if core.value == "uncastled":
            behind = [t.text for t in self.tokens[core.last : core.last + 3]]
            return next((_WINGS[text] for text in behind if text in _WINGS), "")
        if core.value in ("up", "down"):
            return "" if _EXTRA.isdisjoint(inside) else "extra"
        return "in" if core.value == "check" and inside[:1] == ["in"] else "check" if "check" in inside else ""

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


_COUNTING = frozenset((
    "material", "material's", "materially", "count", "counting", "wood", "each", "captured", "points", "dead", "pieces",
    "pawns", "wise",
))  # fmt: skip
_SORTS = frozenset(("passed", "isolated", "doubled", "halfopen"))
# Before a participle these make it something that is done, or not, some time.
_DOING = frozenset((
    "by", "of", "from", "for", "without", "before", "after", "instead", "than", "avoid", "consider", "like", "about",
    "start", "started", "stop", "stops", "try", "tried", "worth", "when", "while", "if",
))  # fmt: skip
# What does it, where no man is named.
_DEEDS = frozenset((
    "it", "he", "she", "they", "we", "i", "you", "that", "this", "which", "who", "move", "check", "push", "capture",
    "jump", "recapture", "threat", "piece", "man", "fellow", "lady", "other", "same", "one", "two", "diagonal", "file",
    "battery", "fianchetto", "chap", "monarch", "majesty", "cavalry", "beast",
))  # fmt: skip
# Behind "by" or "to" these may stand for a man.
_PRONOUNS = frozenset((
    "it", "him", "her", "them", "nothing", "nobody", "anything", "anybody", "something", "everything", "both",
))  # fmt: skip
_VARIED = frozenset(("reversed", "colours", "colors", "mirror", "tempo", "extra", "wrong", "late", "upside", "turned"))
# Words of the longest name, with its article and "variation".
_LONGEST_NAME = 8
# A name heard so clearly that a wrong claim may be laid at the speaker's door, -ln p.
_CLEAR = 1.0
# Done to men, so that one must be named; files are no men.
_OF_MEN = frozenset(("pinned", "skewered", "hanging", "loose", "defended", "attacked"))
_DENIABLE = frozenset(("check", "mate", "stalemate", "pinned", "hanging", "defended", "attacked", "matein"))
# These deny as things stand; "he never", "without a" and "he didn't" are of other times.
_DENIED_NOW = frozenset((
    "passed", "isolated", "doubled", "open", "halfopen", "pair", "opposite", "up", "down", "level",
    "attacks", "defends", "controls", "pin", "fork",
))  # fmt: skip
_NOW = frozenset(("not", "isn't", "aren't", "doesn't", "hasn't", "haven't", "ain't", "no", "neither", "nor", "nobody"))
# "Passed" and the like before a man say which of them is meant.
_NARROWING = frozenset(("passed", "isolated", "doubled"))
# Men counted by themselves, whatever the rest.
_EXTRA = frozenset(("extra", "more", "less", "fewer"))
_WINGS = {"short": "short", "kingside": "short", "long": "long", "queenside": "long"}
_OF_A_SIDE = frozenset(("passed", "isolated", "doubled", "halfopen", "pair"))


def _amount(texts: Sequence[str], men: Sequence[Symbol]) -> tuple[int, str]:
    """How many of what: (2, "P") of "two pawns up", (1, "X") of "the exchange up", (3, "") of "mate in three"."""
    if "exchange" in texts:
        return 1, "X"
    counts = [_MANY[t] for t in texts if t in _MANY] + [int(t) for t in texts if t.isdigit()]
    return (counts[0] if counts else 1), (men[-1].value if men else "")


def _men(named: Sequence[Named]) -> tuple[Man, ...]:
    return tuple(n.man for n in named)


def _covers(symbol: Symbol, named: Named) -> bool:
    return symbol.first < named.last and named.first < symbol.last


def _inside(symbol: Symbol, other: Symbol) -> bool:
    longer = other.last - other.first > symbol.last - symbol.first
    return longer and other.first <= symbol.first and symbol.last <= other.last
