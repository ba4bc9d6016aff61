"""What stands beside a head: movers, origins, captures and checks to its left and right."""

from __future__ import annotations

from collections.abc import Sequence

from lesson.hear.descriptive import Named, named_by_wing
from lesson.hear.grammar import Grammar, Symbol
from lesson.hear.phrase import Slots
from lesson.hear.sounds import FILES, Costs, Sounds
from lesson.hear.squares import MOVERS, Square, find_squares
from lesson.hear.tokens import Token, with_breaks

LEFT_REACH, RIGHT_REACH = 7, 5
OWNERS = frozenset(("the", "this", "that", "his", "my", "her", "your"))
_WAYS = frozenset(("up", "out", "over", "across", "forward", "down", "along", "home", "away"))
_SUBJECTS = frozenset(("i", "he", "she", "we", "you", "they"))
_MAYBE_A: Costs = (0.0, *(2.5,) * 7)  # "a pawn": the a-pawn, or any


# Men by their own names: what is only heard for one ("look") or may be one ("her") does not make a square its place.
_BY_NAME = frozenset(("pawn", "pawns", "knight", "knights", "night", "bishop", "rook", "queen", "king"))


class Scan:
    """Tokens with everything found on them, and questions about them."""

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

    def _is_origin(self, q: Square) -> bool:
        """A square right before a piece word, or after "from", says where a man comes from; after "takes" or "takes
        the" it says what is taken."""
        before = q.first - 1
        owned = before >= 0 and self.tokens[before].text in OWNERS
        if (
            before >= owned
            and self.has(before - owned, "take")
            and not any(map(self._barrier, range(before - owned, q.first)))
        ):
            return False
        if q.last < len(self.tokens) and self._barrier(q.last - 1) == 0:
            nxt = q.last
            if self.tokens[nxt].text in _BY_NAME and nxt not in self.square_at and q.form == "full":
                told = before >= 0 and not self._barrier(before)
                if told and (self.value(before, "piece") or self.tokens[before].text in ("on", "to", "at")):
                    return False  # "king e5 rook takes": the square is the king's
                follows = nxt + 1 < len(self.tokens) and (nxt + 1) in self.square_at
                return owned or not (follows or self.unstopped)
        return before >= 0 and self.tokens[before].text == "from" and not self.has(max(0, before - 1), "check")

    def _taken_there(self, q: Square) -> str:
        """The pawn of "takes the d5 pawn"."""
        owned = q.first > 0 and self.tokens[q.first - 1].text in OWNERS
        follows = owned and q.last < len(self.tokens) and self._barrier(q.last - 1) == 0
        return self.value(q.last, "piece") if follows and q.last not in self.square_at else ""

    def _piece_moves(self, i: int) -> bool:
        """A piece word with a verb of motion near by, or a pawn named by its file, "the other knight", "king up"."""
        if self.value(i, "piece") == "P" and i > 0 and self._file_letter(i - 1):
            return True
        if self.by_wing(i) or (i > 0 and self.tokens[i - 1].text == "other" and not self._barrier(i - 1)):
            return True
        if (
            i + 1 < len(self.tokens)
            and self.tokens[i + 1].text in _WAYS
            and not self._barrier(i)
            and self._barrier(i + 1)
        ):
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

    def by_wing(self, i: int) -> Named | None:
        """How the man at token i is named by the half of the board he began on."""
        return named_by_wing(self.tokens, i, self.value(i, "piece"))

    def _file_letter(self, i: int) -> Costs | None:
        text = self.tokens[i].text
        if text == "a" and i + 1 < len(self.tokens) and self.value(i + 1, "piece") == "P" and not self._hyphened(i):
            owned = any(self.tokens[j].text in OWNERS for j in range(max(0, i - 2), i) if not self._barrier(j))
            return self.sounds.file_costs("a") if owned else _MAYBE_A  # "the little a pawn": no article
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

    def _left(self, i: int, free: int) -> tuple[int, Slots]:
        """Slots to the left of a square at token i: mover, origin, takes."""
        slots: Slots = {
            "piece": "",
            "ofiles": None,
            "origin": None,
            "wing": "",
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
                if slots["piece"]:
                    break
                slots["piece"] = piece
                if not slots["take"]:
                    slots["plural"] = text.endswith("s") and "'" not in text
                if (named := self.by_wing(j)) and named.first >= free:
                    slots["wing"], slots["ofiles"] = named.wing, named.ofiles or slots["ofiles"]
                    j = named.first
            elif self.has(j, "take") or self.has(j, "swap"):
                if slots["take"] or (slots["piece"] and moves) or self._parted(j, i):
                    break
                if slots["piece"]:
                    slots["victim"], slots["piece"] = slots["piece"], ""
                    slots["wing"], slots["ofiles"] = "", None
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
        """ "he takes back d5", "he takes back and d5": two moves, the stop between them lost."""
        end = i - 1 if self.tokens[i - 1].text in ("and", "then") else i
        return any(s.kind == "recapture" and s.last == end and s.last - s.first > 1 for s in self.at[j])

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

    def _parted(self, take: int, i: int) -> bool:
        """Where no stops are written, "takes knight f6" is a capture and then a knight's move to f6."""
        man = take + 1
        return self.unstopped and man + 1 == i and (bool(self.value(man, "piece")) or self.tokens[man].text in MOVERS)

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
