"""What the words of a talk say about a position that a board can confirm or deny. Knows no board.

Cautious, as with verdicts: what is supposed, planned, asked, reported or said of chess at large is no claim. The words
and their meanings are in grammars/en-claims.toml; here is only who and what a claim is about.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from lesson.hear.clauses import LIST, Man, Named, Side
from lesson.hear.grammar import Symbol
from lesson.hear.idle import ACTIVE, ARTICLES, MANY, OF_MEN, SORTS, Idle
from lesson.hear.names import find_names


@dataclass(frozen=True, slots=True)
class Claim:
    """A claim made by words [first, last); the words it turns on begin at `core`.

    `kind` is a "claim:" or "done:" of the grammar. `side` is whom it is said of, "" where no colour was named. `agents`
    are the men that do it, `targets` the men or squares it is done to, `behind` the men behind a pinned one. `files`
    are letters; `number` how many men (of letter `piece`, "X" for the exchange), or moves to mate. `manner` narrows
    a kind ("absolute", "relative", "in" for a side in check, "double" for a check by two men, "extra" for men counted
    whatever the rest, "shift" for another move order). `lines` are the moves an opening's name stands for. `denied`
    says that the claim is that it is not so, `every` that it is said of all the men named ("both rooks hang"),
    `supposed` the word since which its sentence supposes something, -1 for none.
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
    return [claim for claim in _all_claims(tuple(words)) if supposed or claim.supposed < 0]


# Asked for when a talk is heard and when it is checked, under review again and again.
@lru_cache(maxsize=2)
def _all_claims(words: tuple[str, ...]) -> list[Claim]:
    search = _Search(words)
    return sorted([*search.claims(), *search.named()], key=lambda claim: (claim.core, claim.last))


class _Search(Idle):
    """The claims in the clauses of a talk."""

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
            if self.is_unsaid(core):
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
        return core.value in OF_MEN and any(not n.man.square for n in narrowed)

    def around(self, core: Symbol, lo: int, hi: int) -> tuple[list[Named], list[Named], list[Named]]:
        """The men in the clause of a core that do it, that it is done to, and that stand behind those."""
        kind = core.value
        before = self.named_men(lo, core.first)
        after = self.run(self.named_men(core.last, hi), core.last)
        if core.kind == "claim" and kind in ACTIVE:
            if not after and core.last < len(self.tokens) and self.tokens[core.last].text == "it":
                # "The rook guards it" may mean a square or a move; "nobody guards it" is said of a man.
                after = self.antecedent(lo) if kind == "loose" else []
            agents = [] if core.first and self.tokens[core.first - 1].text in ARTICLES else before[-1:]
            agents = agents or self.related(lo)
            behind = self.split(after)
            targets = after[: len(after) - len(behind)]
            if kind in ("pin", "skewer") and not behind:
                targets, behind = self.turned(targets)
            return agents, targets, behind
        if core.kind == "done":
            if self.is_attribute(core):
                return [], after[:1] if core.last in self.men else [], []
            behind = self.linked(core.last, hi) if kind in ("pinned", "skewered") else []
            if not before and kind in SORTS:
                before = self.referred(core, lo)
            if kind in OF_MEN and kind not in ("pinned", "skewered") and not before:
                before = self.referred(core, lo)
            if kind in OF_MEN and self.is_list(before):
                # A claim has one subject, and of two the board may say two things.
                return [], [], []
            return self.by_whom(core.last, hi), before[-1:], behind
        pawns = [n for n in (*before[-1:], *after) if n.man.piece in ("P", "")]
        return [], pawns if kind in ("passed", "isolated", "doubled") else [], []

    def is_list(self, men: Sequence[Named]) -> bool:
        """Whether the last two of some men are named in one breath: "neither the rook nor the bishop"."""
        between = [t.text for t in self.tokens[men[-2].last : men[-1].first]] if len(men) > 1 else []
        return not {"and", "nor", "or"}.isdisjoint(between) and all(t in LIST or t in ("nor", "or") for t in between)

    def related(self, lo: int) -> list[Named]:
        """The man right before a "that" or "which" that opens the clause at `lo`: "the pawn that defends it"."""
        if not lo or self.tokens[lo - 1].text not in ("that", "which"):
            return []
        men = self.named_men(self.clause_start(lo - 1), lo - 1)
        return [n for n in men[-1:] if n.last == lo - 1]

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
        if core.value == "check" and "double" in inside:
            return "double"
        return "in" if core.value == "check" and inside[:1] == ["in"] else "check" if "check" in inside else ""


_VARIED = frozenset(("reversed", "colours", "colors", "mirror", "tempo", "extra", "wrong", "late", "upside", "turned"))
# Words of the longest name, with its article and "variation".
_LONGEST_NAME = 8
# A name heard so clearly that a wrong claim may be laid at the speaker's door, -ln p.
_CLEAR = 1.0
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
    counts = [MANY[t] for t in texts if t in MANY] + [int(t) for t in texts if t.isdigit()]
    return (counts[0] if counts else 1), (men[-1].value if men else "")


def _men(named: Sequence[Named]) -> tuple[Man, ...]:
    return tuple(n.man for n in named)


def _covers(symbol: Symbol, named: Named) -> bool:
    return symbol.first < named.last and named.first < symbol.last


def _inside(symbol: Symbol, other: Symbol) -> bool:
    longer = other.last - other.first > symbol.last - symbol.first
    return longer and other.first <= symbol.first and symbol.last <= other.last
