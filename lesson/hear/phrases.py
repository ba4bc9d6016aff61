"""Phrases: stretches of words that may name a move, kept as soft slots.

A phrase is not a parsed string but a cost for every square, piece and origin, and the strength of the cues around it;
which legal move it names is for the decoder to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lesson.hear.accent import with_men
from lesson.hear.around import CONTEXT_AFTER
from lesson.hear.descriptive import names_another
from lesson.hear.grammar import Grammar
from lesson.hear.loose import Loose
from lesson.hear.names import NameHit
from lesson.hear.phrase import Phrase, merged
from lesson.hear.scan import LEFT_REACH
from lesson.hear.sounds import FILES, PIECES, RANKS, Costs, Sounds
from lesson.hear.tokens import Token

NOISE_SHARES = (0.03, 0.15)
_SMALL = frozenset(
    ("the", "a", "an", "on", "at", "in", "of", "off", "his", "her", "my", "our", "your", "their", "that")
)
_MAYBE_KNIGHT: Costs = (0.3, 0.3, 0.0, 4.0, 4.0, 4.0, 4.0)


class Hearing(Loose):
    """Builds the phrases from their heads."""

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
            if any(s.kind == "promote" and s.first == i and self._in_one_breath(s) for s in self.at[i]):
                places.append(("promote", i))
                i = max(s.last for s in self.at[i] if s.kind == "promote")
                continue
            if self.value(i, "nav") == "back" and not self._recaptures(i):
                pass
            elif loose := self.loose_head(i):
                places.append((loose, i))
            elif any(s.kind in ("take", "swap", "recapture") and s.first == i for s in self.at[i]):
                places.append(("take", i))
            elif any(s.kind in ("check", "mate") and s.first == i for s in self.at[i]):
                places.append(("check", i))
            elif (piece := self.value(i, "piece")) and self._another(i):
                pass
            elif piece and self._piece_moves(i):
                places.append(("piece", i))
            i += 1
        return places

    def _recaptures(self, i: int) -> bool:
        """ "I take back" is a capture, "take back" alone and "he takes the move back" are not."""
        by = self.value(i - 1, "person") or self.value(i - 1, "side") if i and not self._barrier(i - 1) else ""
        end = max((s.last for s in self.at[i] if s.kind == "recapture" and s.first == i), default=0)
        after = self.tokens[end].text if end < len(self.tokens) else ""
        return end > 0 and (after == "with" or (bool(by) and after not in ("to", "at", "in")))

    def _another(self, i: int) -> bool:
        """Whether the man at token i only says which one the next is: the king of "the king's pawn"."""
        return i + 1 < len(self.tokens) and names_another(self.tokens, i, self.value(i + 1, "piece"))

    # -- building

    def _build(self, head: str, i: int, free: int) -> tuple[int, int, Phrase] | None:
        return {
            "corner": self.corner_phrase,
            "block": self.block_phrase,
            "mirror": self.mirror_phrase,
            "with": self.with_phrase,
            "enpassant": self.passing_phrase,
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
        if slots["take"] and last == q.last and (victim := self._taken_there(q)):
            slots["victim"], last = victim, q.last + 1
        guess = None
        letter = self.tokens[q.first].text
        odd = q.last - q.first == 2 and letter not in FILES
        if not slots["piece"] and slots["ofiles"] is None and q.first > 0 and self._barrier(q.first - 1) < 2:
            guess = self.sounds.piece_costs("@" + letter if odd else self.tokens[q.first - 1].text)
            if self._maybe_origin(q.first):
                guess = _MAYBE_KNIGHT
        phrase = Phrase(
            0, 0, "square", q.files, q.ranks, q.form, guess=guess, odd=odd, text_cost=q.cost, **merged(slots, right)
        )
        if odd and letter == "i" and not phrase.piece and phrase.ofiles is None:
            phrase = replace(phrase, mute=True, guess=_MAYBE_KNIGHT)
        if self.unstopped and slots["take"] and not right.get("piece") and self.has(q.first - 1, "take"):
            phrase = replace(phrase, split=_split(phrase, q.origin))
        elif right.get("check") and (self.unstopped or self._barrier(q.last - 1)):
            phrase = replace(phrase, split=_and_check(phrase))
        return first, last, phrase

    def _castle_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        symbols = [s for s in self.at[i] if s.kind == "castle"]
        kind = next((s.value for s in symbols if s.value != "any"), "any")
        last = max(s.last for s in symbols)
        first, slots = self._left(i, free)
        both = any(self.has(j, "both") for j in range(max(0, i - 3), min(len(self.tokens), last + 1)))
        both = both or any(token.text == "both" for token in self.tokens[max(0, i - 2) : i])  # "both dudes castle"
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
            if self.has(j, "take"):
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
        return min(first, i), max(last, after), Phrase(0, 0, "take", **merged(slots, right))

    def _check_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        if i < free or self._check_head(i):
            return None
        first, slots = self._left(i, free)
        slots["check"], slots["mate"] = self.has(i, "check"), self.has(i, "mate")
        last = i + 1
        return min(first, i), last, Phrase(0, 0, "check", **merged(slots, {}))

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
        if named := self.by_wing(i):
            first, slots["wing"], slots["ofiles"] = min(first, named.first), named.wing, named.ofiles
        elif piece == "P":
            slots["ofiles"] = self._file_letter(i - 1) if i > 0 else None
            if slots["ofiles"] is None and i > 0 and self.tokens[i - 1].text == "a" and self._hyphened(i - 1):
                slots["ofiles"] = self.sounds.file_costs("a")
            if slots["ofiles"] is not None:
                first = min(first, i - 1)
        slots["piece"] = piece
        back = any(self.has(j, "back") for j in range(i, last))
        slots["back"] = back or slots["back"]
        kind = "pawn" if piece == "P" else "piece"
        both = any(token.text == "both" for token in self.tokens[max(first - 1, free) : i])
        return min(first, i), last, Phrase(0, 0, kind, step=step, both=both, **merged(slots, {}))

    def _promote_phrase(self, i: int, free: int) -> tuple[int, int, Phrase] | None:
        last = max(s.last for s in self.at[i] if s.kind == "promote")
        for j in range(last, min(len(self.tokens), last + 3)):
            if self._barrier(j - 1):
                break
            if j in self.square_at:
                return None
        return i, last, Phrase(0, 0, "promote", promote=self.value(i, "promote"))


def _split(phrase: Phrase, ofiles: Costs | None) -> tuple[Phrase, Phrase]:
    """ "King takes d4" as two moves: the king takes, and then d4."""
    capture = replace(
        phrase, kind="take", files=None, ranks=None, form="", guess=None, odd=False, victim="", check=False, mate=False
    )
    move = replace(
        phrase, piece="", ofiles=ofiles, origin=None, take=False, swap=False, recapture=False, victim="", plural=False,
        back=False, side="", person="",
    )  # fmt: skip
    return capture, move


def _and_check(phrase: Phrase) -> tuple[Phrase, Phrase]:
    """ "D6, check" as two moves: d6, and then a check by the other side."""
    return replace(phrase, check=False), Phrase(phrase.first, phrase.last, "check", check=True)


def find_phrases(
    tokens: Sequence[Token], grammar: Grammar, sounds: Sounds, names: Sequence[NameHit] = ()
) -> list[Phrase]:
    """All phrases of the talk in order; an opening's name swallows what else its words might mean."""
    tokens = with_men(tokens, grammar, sounds)
    hearing = Hearing(tokens, grammar, sounds)
    phrases = [p for p in hearing.heads() if not any(h.first < p.last and p.first < h.last for h in names)]
    named = [phrase for h in names if (phrase := hearing.named(h, phrases)) is not None]
    found = sorted([*phrases, *named], key=lambda p: (p.first, p.last))
    noise = noise_level(tokens, found)
    out: list[Phrase] = []
    for p, after in zip(found, [*found[1:], None], strict=False):
        pair = p.kind == "take" and after is not None and after.kind == "take" and after.first - p.last <= 1
        before = out[-1] if out else None
        trails = before is not None and before.rather is p
        rather = after if after is not None and _instead(p, after) else None
        if rather is None and before is not None and not before.trails and _leads(before, p):
            rather = found[len(out) - 1]
        leads = not trails and after is not None and _leads(p, after)
        split = None if p.split is None else (replace(p.split[0], noise=noise), replace(p.split[1], noise=noise))
        out.append(replace(p, noise=noise, pair=pair, rather=rather, trails=trails, leads=leads, split=split))
    return out


def _instead(phrase: Phrase, after: Phrase) -> bool:
    """ "g3 instead of h3", in one breath."""
    return "nav:instead" in phrase.after and after.ref == "instead" and after.ends == 0 and after.gap <= CONTEXT_AFTER


def _leads(phrase: Phrase, after: Phrase) -> bool:
    """ "Instead of h3, Black plays g3"."""
    return phrase.ref in ("instead", "undone") and after.ends == 0 and after.gap <= CONTEXT_AFTER


def noise_level(tokens: Sequence[Token], phrases: Sequence[Phrase]) -> int:
    """How badly the talk was heard: 0 hardly a square in odd form, 1 some, 2 many.

    An odd form is a square without its letter, through a homophone or a whole word, or with a letter that is no file;
    the knight written "night" counts as well. The limits part exact words, a good and a weak recogniser in talks of
    our own; they are shares of odd forms among all squares.
    """
    squares = [p for p in phrases if p.kind == "square" and p.form != "corner"]
    odd = sum(p.form != "full" or p.odd for p in squares)
    odd += sum(t.text in ("night", "nights", "pun", "puns", "chec", "cassels") for t in tokens)
    share = odd / (len(squares) + 5)
    return 0 if share < NOISE_SHARES[0] else 1 if share < NOISE_SHARES[1] else 2


__all__ = ["FILES", "PIECES", "RANKS", "Hearing", "Phrase", "find_phrases"]
