"""Phrases: stretches of words that may name a move, kept as soft slots.

A phrase is not a parsed string but a cost for every square, piece and origin, and the strength of the cues around it;
which legal move it names is for the decoder to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypedDict, cast

from lesson.hear.grammar import Grammar, Symbol
from lesson.hear.names import NameHit
from lesson.hear.sounds import FILES, PIECES, RANKS, Costs, Sounds
from lesson.hear.squares import Square, find_squares
from lesson.hear.tokens import Token, with_breaks

NOISE_SHARES = (0.03, 0.15)
LEFT_REACH, RIGHT_REACH = 7, 5
_CONTEXT = 4
_AFTER = 5
_NUMBERS = {
    w: i
    for i, w in enumerate(
        [
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
            "twenty",
        ],
        1,
    )
}


@dataclass(frozen=True, slots=True)
class Phrase:
    """Soft slots of one possible move.

    `first`/`last` are word indices (half open). `kind` names the head: square, take, castle, pawn, piece, check,
    promote, name. `files`/`ranks` are costs of the target square (None: no square heard). `piece` is the letter of the
    mover named ("" none), `guess` the costs for ("", P, N, B, R, Q, K) of the word before the square when no piece was
    named. `ofiles` are costs of the file of origin, `origin` a square of origin. `victim` is what is taken; `pair`
    says that the next phrase is a bare capture too; `noise` is how badly the whole talk was heard (0, 1, 2). `cues` are
    the grammar's cue kinds since the phrase before, `inside` those within; `context` the words around it; `numbers`
    move numbers said since the phrase before; `text_cost` what it costs to take these words for a move.
    `ref` is the cue of going back right before the phrase ("instead of" c3, "after" king g7); `after` are the cue kinds
    in the rest of the sentence; `rather` is the next phrase where this one is told "instead of" it, `trails` says that
    this phrase is such a next one; `asks` that the sentence is a question, `ends` how many sentences ended since the
    phrase before, `judged` that a verdict was given there. Where a fact was given (kind "known"), `known` is the move
    it names (SAN or UCI; "-" for words that move nothing) and `path` the moves to the position it goes back to.
    """

    first: int
    last: int
    kind: str
    files: Costs | None = None
    ranks: Costs | None = None
    form: str = ""
    piece: str = ""
    guess: Costs | None = None
    ofiles: Costs | None = None
    origin: Square | None = None
    victim: str = ""
    take: bool = False
    swap: bool = False
    recapture: bool = False
    check: bool = False
    mate: bool = False
    castle: str = ""
    both: bool = False
    promote: str = ""
    step: int = 0
    back: bool = False
    other: bool = False
    plural: bool = False
    pair: bool = False
    noise: int = 0
    odd: bool = False
    side: str = ""
    person: str = ""
    cues: frozenset[str] = frozenset()
    inside: frozenset[str] = frozenset()
    context: tuple[str, ...] = ()
    numbers: tuple[int, ...] = ()
    opens: bool = False
    gap: int = 0
    text_cost: float = 0.0
    probability: float = 1.0
    lines: tuple[tuple[str, ...], ...] = ()
    lead: int = 0
    ref: str = ""
    after: frozenset[str] = frozenset()
    rather: Phrase | None = None
    trails: bool = False
    asks: bool = False
    ends: int = 0
    judged: bool = False
    known: str = ""
    path: tuple[str, ...] | None = None


class Slots(TypedDict, total=False):
    """The slots of a phrase while they are being filled; the names are Phrase's."""

    piece: str
    ofiles: Costs | None
    origin: Square | None
    victim: str
    take: bool
    swap: bool
    recapture: bool
    check: bool
    mate: bool
    promote: str
    back: bool
    other: bool
    plural: bool
    side: str
    person: str


class Hearing:
    """Tokens with everything found on them; builds the phrases."""

    def __init__(self, tokens: Sequence[Token], grammar: Grammar, sounds: Sounds) -> None:
        tokens, self.unstopped = with_breaks(tokens)
        self.tokens = tokens
        self.sounds = sounds
        self.symbols = grammar.symbols([t.text for t in tokens])
        self.at: list[list[Symbol]] = [[] for _ in tokens]
        for s in self.symbols:
            for i in range(s.first, s.last):
                self.at[i].append(s)
        self.squares = find_squares(tokens, sounds)
        self.square_at: dict[int, Square] = {i: q for q in self.squares for i in range(q.first, q.last)}

    # -- small questions about a token

    def has(self, i: int, kind: str) -> bool:
        """Whether a symbol of that kind covers token i."""
        return any(s.kind == kind for s in self.at[i])

    def value(self, i: int, kind: str) -> str:
        """The value of the symbol of that kind at token i, "" if none."""
        return next((s.value for s in self.at[i] if s.kind == kind), "")

    def _barrier(self, i: int) -> int:
        """How strongly the talk breaks after token i."""
        return self.tokens[i].stop

    # -- heads

    def heads(self) -> list[Phrase]:
        """All phrases in order, not overlapping in their heads."""
        out: list[Phrase] = []
        free = 0  # first token no phrase has used
        for head, i in self._head_places():
            if i < free and head != "square":
                continue
            phrase = self._build(head, i, free)
            if phrase is None:
                continue
            first, last, made = phrase
            if last <= free:
                continue
            out.append(self._finish(made, first, last, free))
            free = last
        return out

    def named(self, hit: NameHit, others: Sequence[Phrase]) -> Phrase | None:
        """The phrase of an opening's name; `others` are the phrases before it."""
        inside = [i for i, t in enumerate(self.tokens) if hit.first <= t.word < hit.last]
        if not inside:
            return None
        before = [p.last for p in others if p.last <= hit.first]
        free = next((i for i, t in enumerate(self.tokens) if before and t.word >= before[-1]), 0)
        lines = tuple(dict.fromkeys(name.moves for name in hit.names))
        phrase = Phrase(0, 0, "name", lines=lines, text_cost=hit.cost)
        return self._finish(phrase, inside[0], inside[-1] + 1, min(free, inside[0]))

    def _head_places(self) -> list[tuple[str, int]]:
        places: list[tuple[str, int]] = []
        n = len(self.tokens)
        i = 0
        while i < n:
            if i in self.square_at:
                q = self.square_at[i]
                if not self._is_origin(q):
                    places.append(("square", i))
                i = q.last
                continue
            if self.has(i, "castle") and self.at[i] and any(s.kind == "castle" and s.first == i for s in self.at[i]):
                places.append(("castle", i))
                i = max(s.last for s in self.at[i] if s.kind == "castle")
                continue
            if any(s.kind == "promote" and s.first == i for s in self.at[i]):
                places.append(("promote", i))
                i = max(s.last for s in self.at[i] if s.kind == "promote")
                continue
            if self.has(i, "nav") and self.value(i, "nav") == "back":
                pass
            elif any(s.kind in ("take", "swap", "recapture") and s.first == i for s in self.at[i]):
                places.append(("take", i))
            elif any(s.kind in ("check", "mate") and s.first == i for s in self.at[i]):
                places.append(("check", i))
            elif self.value(i, "piece") and self._piece_moves(i):
                places.append(("piece", i))
            i += 1
        return places

    def _is_origin(self, q: Square) -> bool:
        """A square right before a piece word, or after "from", says where a man comes from."""
        if q.last < len(self.tokens) and self._barrier(q.last - 1) == 0:
            nxt = q.last
            if self.value(nxt, "piece") and nxt not in self.square_at and q.form == "full":
                follows = nxt + 1 < len(self.tokens) and (nxt + 1) in self.square_at
                before = q.first > 0 and self.tokens[q.first - 1].text in (
                    "the",
                    "this",
                    "that",
                    "his",
                    "my",
                    "her",
                    "your",
                )
                return before or not (follows or self.unstopped)
        return q.first > 0 and self.tokens[q.first - 1].text == "from" and not self.has(max(0, q.first - 2), "check")

    def _piece_moves(self, i: int) -> bool:
        """A piece word with a verb of motion near by, or a pawn named by its file."""
        if self.value(i, "piece") == "P" and i > 0 and self._file_letter(i - 1):
            return True
        span = range(i + 1, min(len(self.tokens), i + 4))
        for j in span:
            if self._barrier(j - 1):
                break
            if self.has(j, "go") or self.has(j, "back"):
                return True
        for j in range(i - 1, max(-1, i - 6), -1):
            if self._barrier(j):
                return False
            if self.has(j, "go"):
                return True
        return False

    def _file_letter(self, i: int) -> Costs | None:
        text = self.tokens[i].text
        if text == "a" and i + 1 < len(self.tokens) and self.value(i + 1, "piece") == "P" and not self._hyphened(i):
            return _MAYBE_A
        if text == "i" and not (
            i + 1 < len(self.tokens) and (self.value(i + 1, "piece") or self.tokens[i + 1].text == "takes")
        ):
            return None
        if len(text) == 1 and text.isalpha() and (text in FILES or text in "ptvzikj"):
            if text == "a" and not (i + 1 < len(self.tokens) and self._hyphened(i)):
                return None
            return self.sounds.file_costs(text)
        return None

    def _hyphened(self, i: int) -> bool:
        return self.tokens[i + 1].glued

    # -- building

    def _build(self, head: str, i: int, free: int) -> tuple[int, int, Phrase] | None:
        return {
            "square": self._square_phrase,
            "castle": self._castle_phrase,
            "take": self._take_phrase,
            "check": self._check_phrase,
            "piece": self._piece_phrase,
            "promote": self._promote_phrase,
        }[head](i, free)

    def _square_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        q = self.square_at[i]
        first, slots = self._left(q.first, free)
        if q.origin is not None:
            slots["ofiles"] = q.origin
        if q.piece and not slots["piece"]:
            slots["piece"] = q.piece
        if q.form in ("soft", "rank") and not slots["piece"] and not slots["take"] and q.form == "soft" and q.cost > 3:
            return None
        last, right = self._right(q.last, king=slots["piece"] == "K")
        guess = None
        letter = self.tokens[q.first].text
        odd = q.last - q.first == 2 and letter not in FILES
        if not slots["piece"] and slots["ofiles"] is None and q.first > 0 and self._barrier(q.first - 1) < 2:
            guess = self.sounds.piece_costs("@" + letter if odd else self.tokens[q.first - 1].text)
            if self._maybe_origin(q.first):
                guess = _MAYBE_KNIGHT
        phrase = Phrase(
            0, 0, "square", q.files, q.ranks, q.form, guess=guess, odd=odd, text_cost=q.cost, **_merge(slots, right)
        )
        return first, last, phrase

    def _left(self, i: int, free: int) -> tuple[int, Slots]:
        """Slots to the left of a square at token i: mover, origin, takes."""
        slots: Slots = {
            "piece": "",
            "ofiles": None,
            "origin": None,
            "take": False,
            "swap": False,
            "victim": "",
            "side": "",
            "person": "",
            "recapture": False,
            "back": False,
            "other": False,
            "check": False,
            "mate": False,
            "plural": False,
        }
        first = i
        j = i - 1
        moves = False
        floor = max(free, i - LEFT_REACH)
        while j >= floor:
            if self._barrier(j) == 2 or (self._barrier(j) == 1 and j < i - 1):
                break
            if self._barrier(j) == 1 and not (j == i - 1 and self._stray_comma(j)):
                break
            if self._taken_back(j, i):
                break
            text = self.tokens[j].text
            if j in self.square_at:
                q = self.square_at[j]
                if self._is_origin(q) and slots["origin"] is None:
                    slots["origin"] = q
                    first = j = q.first
                    j -= 1
                    continue
                break
            used = True
            moves = moves or self.has(j, "go")
            if piece := self.value(j, "piece"):
                if slots["take"] is False and not slots["piece"]:
                    slots["piece"] = piece
                    slots["plural"] = text.endswith("s") and "'" not in text
                elif slots["take"] and not slots["piece"]:
                    slots["piece"] = piece
                elif not slots["take"]:
                    break
                else:
                    break
            elif self.has(j, "take") or self.has(j, "swap"):
                if slots["take"] or (slots["piece"] and moves):
                    break
                if slots["piece"]:
                    slots["victim"], slots["piece"] = slots["piece"], ""
                slots["take"] = True
                slots["swap"] = self.has(j, "swap")
                slots["recapture"] = self.has(j, "recapture")
            elif self.has(j, "check") and j >= i - 3:
                slots["check"] = True
            elif self.has(j, "mate") and j >= i - 3:
                slots["mate"] = True
            elif slots["ofiles"] is None and self._origin_letter(j, i):
                slots["ofiles"] = self._file_letter(j)
                if self.has(j + 1, "take") and not (j > 0 and self.value(j - 1, "piece")):
                    slots["piece"] = slots["piece"] or "P"  # "d takes e5": only pawns are named by their file
            elif text in ("9", "nine") and self.has(j + 1, "take") and not slots["piece"]:
                slots["piece"] = "N"
            elif self.has(j, "back"):
                slots["back"] = True
            elif self.has(j, "other"):
                slots["other"] = True
            elif side := self.value(j, "side"):
                slots["side"] = slots["side"] or side
            elif person := self.value(j, "person"):
                slots["person"] = slots["person"] or person
            else:
                used = False
            if used:
                first = j
            if text in _SUBJECTS and j < i - 1:
                break
            j -= 1
        return first, slots

    def _taken_back(self, j: int, i: int) -> bool:
        """ "he takes back d5": two moves, the stop between them lost."""
        return any(s.kind == "recapture" and s.last == i and s.last - s.first > 1 for s in self.at[j])

    def _stray_comma(self, j: int) -> bool:
        """ "bishop, e5": a comma between a bare piece and its square."""
        return bool(self.value(j, "piece")) and (j == 0 or self._barrier(j - 1) > 0)

    def _maybe_origin(self, i: int) -> bool:
        """ "knight f2, d7" may be knight f to d7, the "to" written as a number and a comma put in."""
        return (
            i >= 3
            and self.tokens[i - 1].text in ("2", "two")
            and self.tokens[i - 1].stop == 1
            and len(self.tokens[i - 2].text) == 1
            and (self.value(i - 3, "piece") == "N" or self.tokens[i - 3].text in ("i'd", "9", "i"))
        )

    def _origin_letter(self, j: int, i: int) -> bool:
        """A file letter between the piece and the square, or before takes or pawn: "knight b d7", "d takes e5"."""
        costs = self._file_letter(j)
        if costs is None:
            text = self.tokens[j].text
            if text != "a" or j + 1 >= len(self.tokens):
                return False
            nxt = self.tokens[j + 1].text
            return bool(
                self.has(j + 1, "take") or (j > 0 and self.value(j - 1, "piece") and (nxt == "to" or j + 1 == i))
            )
        nxt_kind = j + 1 < len(self.tokens)
        if not nxt_kind:
            return False
        return (
            self.has(j + 1, "take")
            or bool(self.value(j + 1, "piece"))
            or self.tokens[j + 1].text in ("to", "too")
            or (self.tokens[j + 1].text in ("2", "two") and (j + 1) not in self.square_at)
            or (j + 1 == i and j > 0 and bool(self.value(j - 1, "piece")))
        )

    def _right(self, i: int, king: bool = False) -> tuple[int, Slots]:
        """Slots to the right of a head: check, mate, "with the knight", promotion."""
        slots: Slots = {}
        last = i
        j = i
        end = min(len(self.tokens), i + RIGHT_REACH)
        while j < end:
            if j > 0 and self._barrier(j - 1) == 2:
                break
            comma = j > 0 and self._barrier(j - 1) == 1
            near = j - last <= 1
            if j in self.square_at and not self._is_origin(self.square_at[j]):
                break
            if self.has(j, "person") and not self.value(j, "piece"):
                break
            if near and comma and king and self.has(j, "check"):
                break  # kings give no check: the word is a move of its own
            if near and (self.has(j, "check") or self.has(j, "mate")) and not self._check_head(j):
                slots["check" if self.has(j, "check") else "mate"] = True
                last = j + 1
            elif not comma and self.has(j, "with") and self._with_piece(j):
                piece, ofiles, k = self._with_piece(j) or ("", None, j)
                slots["piece"] = piece
                if ofiles is not None:
                    slots["ofiles"] = ofiles
                last = j = k
                continue
            elif near and not comma and any(s.kind == "promote" and s.first == j for s in self.at[j]):
                slots["promote"] = self.value(j, "promote")
                last = j + 1
            elif (
                near
                and not comma
                and self.value(j, "piece") in ("Q", "N")
                and self.tokens[j].text in ("queen", "knight")
            ):
                if j + 1 < len(self.tokens) and (j + 1) in self.square_at:
                    break
                j += 1
                continue
            elif self.value(j, "piece") or self.has(j, "take") or self.has(j, "castle") or comma:
                break
            j += 1
        return last, slots

    def _check_head(self, j: int) -> bool:
        """ "check on e1" names a move of its own."""
        k = j + 1
        return (
            k + 1 < len(self.tokens)
            and self.tokens[k].text in ("on", "from", "at", "in")
            and (k + 1) in self.square_at
            and self._barrier(j) == 0
        )

    def _with_piece(self, j: int) -> tuple[str, Costs | None, int] | None:
        ofiles: Costs | None = None
        for k in range(j + 1, min(len(self.tokens), j + 5)):
            if self._barrier(k - 1):
                return None
            if letter := (self._file_letter(k) if k + 1 < len(self.tokens) and self.value(k + 1, "piece") else None):
                ofiles = letter
            if piece := self.value(k, "piece"):
                return piece, ofiles, k + 1
        return None

    def _castle_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        symbols = [s for s in self.at[i] if s.kind == "castle"]
        kind = next((s.value for s in symbols if s.value != "any"), "any")
        last = max(s.last for s in symbols)
        first, slots = self._left(i, free)
        both = any(self.has(j, "both") for j in range(max(0, i - 3), min(len(self.tokens), last + 1)))
        phrase = Phrase(0, 0, "castle", castle=kind, both=both, side=str(slots["side"]), person=str(slots["person"]))
        return min(first, i), last, phrase

    def _take_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        """A capture without a square; one with a square is met at the square."""
        verb_last = max(s.last for s in self.at[i] if s.kind in ("take", "swap", "recapture") and s.first == i)
        victim, last = "", verb_last
        ofiles = None
        idle = 0  # words that say nothing of a move
        for j in range(verb_last, min(len(self.tokens), verb_last + LEFT_REACH)):
            if j > verb_last - 1 and self._barrier(j - 1) >= 1:
                break
            if j in self.square_at:
                if self._taken_back(i, j):
                    break
                return None  # the square's phrase will hold this verb
            if self.has(j, "with") or self.has(j, "castle"):
                break
            if any(s.kind == "swap" and s.first == j for s in self.at[j]) and j > verb_last:
                break
            idle += not self.at[j] and self.tokens[j].text not in _SMALL
            if idle > 1:
                break
            if self.has(j, "take") and j > verb_last:
                break
            if (piece := self.value(j, "piece")) and not victim:
                nxt = j + 1
                if (
                    nxt < len(self.tokens)
                    and self._barrier(j) == 0
                    and (self.has(nxt, "take") or self.has(nxt, "go") or nxt in self.square_at)
                ):
                    break
                victim, last = piece, j + 1
        first, slots = self._left(i, free)
        after, right = self._right(last)
        swap = any(s.kind == "swap" and s.first == i for s in self.at[i])
        recapture = any(s.kind == "recapture" and s.first == i for s in self.at[i])
        if recapture and victim and not right.get("piece"):
            victim = ""
        slots = {**slots, "take": True, "swap": swap, "recapture": recapture, "victim": victim}
        if ofiles is not None:
            slots["ofiles"] = ofiles
        return min(first, i), max(last, after), Phrase(0, 0, "take", **_merge(slots, right))

    def _check_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        if i < free or self._check_head(i):
            return None
        first, slots = self._left(i, free)
        slots["check"], slots["mate"] = self.has(i, "check"), self.has(i, "mate")
        last = i + 1
        return min(first, i), last, Phrase(0, 0, "check", **_merge(slots, {}))

    def _piece_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        piece = self.value(i, "piece")
        last = i + 1
        for j in range(i + 1, min(len(self.tokens), i + LEFT_REACH)):
            if self._barrier(j - 1):
                break
            if j in self.square_at or self.has(j, "take") or self.has(j, "swap") or self.has(j, "castle"):
                return None
            if self.value(j, "piece"):
                break
            if self.has(j, "go") or self.has(j, "back") or self.has(j, "step"):
                last = j + 1
        step = 0
        for j in range(max(0, i - 4), min(len(self.tokens), i + 6)):
            if value := self.value(j, "step"):
                step = int(value)
                if j >= i:
                    last = max(last, max(s.last for s in self.at[j] if s.kind == "step"))
        first, slots = self._left(i, free)
        if piece == "P":
            slots["ofiles"] = self._file_letter(i - 1) if i > 0 else None
            if slots["ofiles"] is None and i > 0 and self.tokens[i - 1].text == "a" and self._hyphened(i - 1):
                slots["ofiles"] = self.sounds.file_costs("a")
            if slots["ofiles"] is not None:
                first = min(first, i - 1)
        slots["piece"] = piece
        back = any(self.has(j, "back") for j in range(i, last))
        slots["back"] = back or slots["back"]
        kind = "pawn" if piece == "P" else "piece"
        return min(first, i), last, Phrase(0, 0, kind, step=step, **_merge(slots, {}))

    def _promote_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        last = max(s.last for s in self.at[i] if s.kind == "promote")
        if any(j in self.square_at for j in range(last, min(len(self.tokens), last + 3))):
            return None
        return i, last, Phrase(0, 0, "promote", promote=self.value(i, "promote"))

    # -- what stands around it

    def _reference(self, first: int) -> str:
        """The cue of going back that ends right before token `first`, small words between allowed."""
        for j in range(first - 1, max(-1, first - 4), -1):
            for s in self.at[j]:
                if s.kind == "nav" and s.value in ("instead", "after", "back"):
                    return s.value
            if self._barrier(j) or self.tokens[j].text not in _BETWEEN:
                return ""
        return ""

    def _finish(self, phrase: Phrase, first: int, last: int, free: int) -> Phrase:
        tokens = self.tokens
        lo = max(free, first - 14)
        cues: set[str] = set()
        inside: set[str] = set()
        numbers: list[int] = []
        for i in range(lo, last):
            for s in self.at[i]:
                if s.kind == "nav" and s.value == "movenum" and s.first >= lo:
                    if s.first == i and i + 1 < len(tokens):
                        numbers += _numbers(tokens, i + 1)
                    cues.add("nav:movenum")
                elif s.kind in _CUE_KINDS:
                    name = f"{s.kind}:{s.value}" if s.value else s.kind
                    (inside if i >= first else cues).add(name)
        left = [f"L{k}={tokens[first - k].text}" for k in range(1, _CONTEXT + 1) if first - k >= max(0, free - 1)]
        bag = sorted({f"B={tokens[i].text}" for i in range(max(free, first - 8), first)})
        right = [f"R{k}={tokens[last + k - 1].text}" for k in (1, 2) if last + k - 1 < len(tokens)]
        within = [
            f"I={tokens[i].text}"
            for i in range(first, last)
            if not (tokens[i].text.isdigit() or len(tokens[i].text) == 1)
        ]
        start = next((i for i in range(first, free - 1, -1) if tokens[i].opens), None)
        opening = [] if start is None else [f"S={tokens[start].text}"]
        if start is not None and start + 1 < len(tokens):
            opening.append(f"S2={tokens[start].text} {tokens[start + 1].text}")
        lead = first
        while lead > free and tokens[lead - 1].stop == 0:
            lead -= 1
        opens = any(tokens[i].opens for i in range(free, first + 1))
        return replace(
            phrase,
            first=tokens[first].word,
            last=tokens[last - 1].word + 1,
            cues=frozenset(cues),
            inside=frozenset(inside),
            context=(*left, *bag, *right, *within, *opening),
            numbers=tuple(numbers),
            opens=opens,
            gap=first - free,
            probability=min(tokens[i].probability for i in range(first, last)),
            lead=tokens[lead].word,
            ref=self._reference(first),
            after=self._after(last),
            asks=self._asks(last - 1),
            ends=sum(tokens[i].stop == 2 for i in range(max(0, free - 1), first)),
            judged=any(self.has(i, "judge") for i in range(free, first)),
        )

    def _after(self, last: int) -> frozenset[str]:
        """The cues in the next words of the sentence."""
        out: set[str] = set()
        for i in range(last, min(len(self.tokens), last + _AFTER)):
            if self._barrier(i - 1) == 2:
                break
            out.update(f"{s.kind}:{s.value}" if s.value else s.kind for s in self.at[i] if s.kind in _CUE_KINDS)
        return frozenset(out)

    def _asks(self, i: int) -> bool:
        while i + 1 < len(self.tokens) and self.tokens[i].stop < 2:
            i += 1
        return self.tokens[i].asks


_SMALL = frozenset(
    ("the", "a", "an", "on", "at", "in", "of", "off", "his", "her", "my", "our", "your", "their", "that")
)
_SUBJECTS = frozenset(("i", "he", "she", "we", "you", "they"))
_BETWEEN = frozenset(
    [
        "the",
        "this",
        "that",
        "a",
        "his",
        "her",
        "my",
        "your",
        "our",
        "of",
        "to",
        "moment",
        "when",
        "where",
        "with",
        "just",
        "played",
        "here",
        "white",
        "black",
    ]
)
_MAYBE_KNIGHT: Costs = (0.3, 0.3, 0.0, 4.0, 4.0, 4.0, 4.0)
_MAYBE_A: Costs = (0.0, *(2.5,) * 7)  # "a pawn": the a-pawn, or any

_CUE_KINDS = {
    "nav", "chapter", "if", "threat", "refuse", "slip", "purpose", "would", "past", "but", "so", "stand", "point",
    "all", "exd", "other", "back", "go",
}  # fmt: skip


def _numbers(tokens: Sequence[Token], i: int) -> list[int]:
    text = tokens[i].text
    if text == "number" and i + 1 < len(tokens):
        return _numbers(tokens, i + 1)
    if text.isdigit():
        while i + 1 < len(tokens) and tokens[i + 1].glued and tokens[i + 1].text.isdigit():
            i += 1
            text += tokens[i].text
        return [int(text)]
    if text == "twenty" and i + 1 < len(tokens) and _NUMBERS.get(tokens[i + 1].text, 10) < 10:
        return [20 + _NUMBERS[tokens[i + 1].text]]
    return [_NUMBERS[text]] if text in _NUMBERS else []


def _merge(slots: Slots, right: Slots) -> Slots:
    return cast(Slots, {**slots, **{k: v for k, v in right.items() if v}})


def find_phrases(
    tokens: Sequence[Token], grammar: Grammar, sounds: Sounds, names: Sequence[NameHit] = ()
) -> list[Phrase]:
    """All phrases of the talk in order; an opening's name swallows what else its words might mean."""
    hearing = Hearing(tokens, grammar, sounds)
    phrases = [p for p in hearing.heads() if not any(h.first < p.last and p.first < h.last for h in names)]
    named = [phrase for h in names if (phrase := hearing.named(h, phrases)) is not None]
    found = sorted([*phrases, *named], key=lambda p: (p.first, p.last))
    noise = noise_level(tokens, found)
    out: list[Phrase] = []
    for p, after in zip(found, [*found[1:], None], strict=False):
        pair = p.kind == "take" and after is not None and after.kind == "take" and after.first - p.last <= 1
        rather = after if after is not None and _instead(p, after) else None
        out.append(replace(p, noise=noise, pair=pair, rather=rather, trails=bool(out) and out[-1].rather is p))
    return out


def _instead(phrase: Phrase, after: Phrase) -> bool:
    """ "g3 instead of h3", in one breath."""
    return "nav:instead" in phrase.after and after.ref == "instead" and after.ends == 0 and after.gap <= _AFTER


def noise_level(tokens: Sequence[Token], phrases: Sequence[Phrase]) -> int:
    """How badly the talk was heard: 0 hardly a square in odd form, 1 some, 2 many.

    An odd form is a square without its letter, through a homophone or a whole word, or with a letter that is no file;
    the knight written "night" counts as well. The limits part exact words, a good and a weak recogniser in talks of
    our own; they are shares of odd forms among all squares.
    """
    squares = [p for p in phrases if p.kind == "square"]
    odd = sum(p.form != "full" or p.odd for p in squares)
    odd += sum(t.text in ("night", "nights", "pun", "puns", "chec", "cassels") for t in tokens)
    share = odd / (len(squares) + 5)
    return 0 if share < NOISE_SHARES[0] else 1 if share < NOISE_SHARES[1] else 2


__all__ = ["FILES", "PIECES", "RANKS", "Hearing", "Phrase", "find_phrases"]
