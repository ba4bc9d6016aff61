"""Moves that cannot be played, fit twice, or are missing: the told tree against the words that told it.

The decoder explains any words somehow; here it is asked whether the explanation is what was clearly said. A fault is
reported once: until the script is back on firm ground, what does not fit follows from it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import chess

from lesson.check.beside import Reading
from lesson.check.fault import Fault
from lesson.check.hearing import heard
from lesson.check.legal import Spoken, meant, nearest, two_ways, why_not
from lesson.check.neighbours import APART, HOLDS, Neighbours, number_of
from lesson.check.returns import Announced
from lesson.hear.phrases import Phrase
from lesson.judge.standing import name
from lesson.model import Event

# So many moves in a row that fit end the shadow of a fault.
_FIRM = 3


@dataclass(slots=True)
class _Shadow:
    """Whether a fault still explains what does not fit."""

    lost: bool = False
    good: int = 0
    # Nothing that fits a position which cannot be is firm ground.
    deep: bool = False

    def fall(self) -> None:
        self.lost, self.good = True, 0

    def rise(self) -> None:
        self.lost = self.deep = False

    def fits(self) -> None:
        self.good += 1
        if self.good >= _FIRM and not self.deep:
            self.lost = False


class Walk(Neighbours):
    """One walk over the phrases of a script. `shaded` are the words that lie in the shadow of a fault, `followed` the
    moves made where the decoder has left the script's own position, with that position."""

    def __init__(self, reading: Reading) -> None:
        super().__init__(reading)
        self.returns = reading.returns
        self.followed: list[tuple[Event, chess.Board]] = []
        self.shaded: list[tuple[int, int]] = []
        self.shadow = _Shadow()
        # The position the script itself has reached where the decoder has left it for no reason of the script's.
        self.stayed: chess.Board | None = None
        # Whether a return by number has yet to be followed.
        self.turned = False
        # The words of moves that were put where their numbers say.
        self.placed: set[int] = set()
        # Words behind which faults of another kind have left the script in the air.
        self.broken: list[int] = []
        # Those of them behind positions that cannot be.
        self.impossible: set[int] = set()

    def faults(self) -> Iterator[Fault]:
        done, reached = -1, 0
        announced: int | None = None
        for index, phrase in enumerate(self.phrases):
            began = self.first_event(phrase) if announced is None else announced
            announced = None
            self.cross(range(done + 1, min(began, len(self.events))))
            own = self.own(phrase, began)
            done = max([done, began - 1, *(i for i, e in enumerate(self.events) if e in own)])
            while self.broken and self.broken[0] <= phrase.first:
                at = self.broken.pop(0)
                self.shade(at - 1)
                self.shadow.deep = at in self.impossible
            if self.is_announcement(phrase, self.phrases[index + 1] if index + 1 < len(self.phrases) else None):
                announced = began
                continue
            for numbered in self.returns:
                if numbered.number and numbered.fault is None and reached <= numbered.first < phrase.first:
                    self.go_tonumber_of(numbered, phrase, own, self.events[began - 1].node if began else 0)
                if numbered.line and numbered.node is not None and reached <= numbered.first < phrase.first:
                    self.stayed = self.board(numbered.node).copy()
            reached = phrase.first
            if back := self.announced(phrase):
                self.go_back(back, own, self.events[done].node if done >= 0 else 0)
                self.cross(e for e in range(began, done + 1))
                continue
            placed = self.goes_to_written(phrase, own, began)
            fault = None if placed or self.shadow.lost else self.fault(index, phrase, began, own)
            if fault is not None and index and (fault.kind == "skipped" or fault.why == "wrong side"):
                fault = self.overlooked(index - 1, fault, began) or fault
            self.went_on = any(e.act in ("play", "retell") and e.first < e.last for e in own)
            self.turned = self.turned and not self.went_on
            if fault is not None:
                self.shade(phrase.first)
                yield fault
            elif any(e.act in ("play", "retell") and e.uci and e.origin != "inferred" for e in own):
                spoken = self.clear(phrase)
                if spoken is None or self.is_played(spoken, own):
                    before = self.shadow.lost
                    self.shadow.fits()
                    if before and not self.shadow.lost:
                        self.lift(phrase.first)
            self.cross(e for e in range(began, done + 1))

    def announced(self, phrase: Phrase) -> Announced | None:
        """The return whose words name the phrase's move."""
        return next((r for r in self.returns if r.fault is None and r.first < phrase.last <= r.last), None)

    def go_back(self, back: Announced, own: Sequence[Event], reached: int) -> None:
        """The script has gone back where its words say, though the decoder may have understood something else."""
        self.stayed, self.went_on = None, True
        if self.shadow.lost:
            self.lift(back.first)
        returned = any(e.act == "return" for e in own)
        if back.node is not None and not returned and reached not in (back.node, self.nodes[back.node].parent):
            self.stayed = self.board(back.node).copy()

    def go_tonumber_of(self, back: Announced, phrase: Phrase, own: Sequence[Event], node: int) -> None:
        """The script has gone back to a move by its number; where the decoder has not, to the position of the line so
        far that has this number and in which what comes next can be played."""
        self.stayed, self.turned = None, True
        spoken = self.clear(phrase)
        if spoken is None or any(e.act == "return" for e in own):
            return
        while node >= 0:
            board = self.board(node)
            if board.fullmove_number == back.number and meant(spoken, board):
                self.stayed = board.copy()
                return
            node = self.nodes[node].parent

    def goes_to_written(self, phrase: Phrase, own: Sequence[Event], began: int) -> bool:
        """Whether a move is made in the line so far where the number written before it puts it, though the decoder has
        understood something else; believed once numbers have been those of the board."""
        number, spoken, cursor = self.numbers.get(phrase.first), self.clear(phrase), self.here(began)
        if number is None or spoken is None or self.shadow.lost:
            return False
        if self.is_where_written(spoken, own):
            self.numbers_hold += 1
            return False
        if self.numbers_hold < HOLDS or (number_of(cursor) == number and self.stayed is None and not phrase.ref):
            return False
        for board in self.boards_before(cursor, began):
            if number_of(board) == number and len(said := meant(spoken, board)) == 1:
                self.follow(board, spoken, said[0])
                self.placed.add(spoken.first)
                return True
        line = (board for board in self.boards_before(cursor, 0) if number_of(board) == number)
        if not own or any(e.act == "return" for e in own) or phrase.ref:
            return False
        # Nothing told makes it legal: then it is a fault where its number puts it.
        self.stayed = next(line, self.stayed)
        return False

    def own(self, phrase: Phrase, began: int) -> list[Event]:
        """The events of a phrase. One of words before it that only announced it, but were taken for another move, is a
        move nobody told."""
        events = self.events[began:]
        own = [e for e in events if self.touches(e, phrase)]
        told = any(e.act in ("play", "retell") and e.first < e.last for e in own)
        spoken = self.clear(phrase)
        ahead = [e for e in events if told and e.act == "play" and e.uci and e.last <= phrase.first and e not in own]
        ahead = [e for e in ahead if spoken is not None and not self.parent_says(spoken, e)]
        return [*(replace(e, origin="inferred") for e in ahead), *own]

    def here(self, began: int) -> chess.Board:
        """The position before an event."""
        return self.stayed or self.board(self.events[began - 1].node if began else 0)

    def shade(self, word: int) -> None:
        self.stayed = None
        self.shadow.fall()
        self.shaded.append((word, len(self.words)))

    def lift(self, word: int) -> None:
        self.shadow.rise()
        if self.shaded:
            self.shaded[-1] = (self.shaded[-1][0], word)

    def in_shadow(self, word: int) -> bool:
        """Whether words there follow from an earlier fault."""
        return any(first < word < last for first, last in self.shaded)

    def cross(self, events: Iterator[int] | range) -> None:
        """A return or a new position that was said clearly is firm ground again."""
        for i in events:
            event = self.events[i]
            if event.act in ("return", "chapter") and event.first < event.last:
                self.stayed, self.went_on = None, True
                if self.shadow.lost:
                    self.lift(event.first)

    def fault(self, index: int, phrase: Phrase, began: int, own: Sequence[Event]) -> Fault | None:
        cursor = self.here(began)
        missing = next((e for e in own if e.origin == "inferred"), None)
        moved = any(e.act in ("play", "retell") and e.first < e.last for e in own)
        spoken = self.clear(phrase)
        if spoken is None:
            if moved:
                self.stayed = None
            if (wrong := self.wrong_side(index, phrase, None, own, cursor)) is not None:
                return wrong
            if missing is not None and moved:
                return self.skipped(phrase.first, phrase.last, cursor, missing.san)
            return self.taken_back(phrase, own) if phrase.kind == "take" else None
        heading = spoken.castle or (spoken.piece and not meant(spoken, cursor) and not self.is_numbered(spoken, cursor))
        if heading and cursor.fen() == chess.STARTING_FEN and not moved:
            # Before the first move the talk is of what is to come.
            return None
        if self.is_again(phrase, spoken, cursor) or (spoken.castle and heard("rule").search(self.around(phrase))):
            return None
        if phrase.ref or self.is_answered(phrase) or self.is_return_to(spoken, own):
            if any(e.act == "return" for e in own):
                self.stayed = None
            return None
        if self.is_pawns(spoken, cursor):
            spoken = replace(spoken, piece="P")
        self.is_astray = self.stayed is not None
        if self.stayed is not None and (moved or self.is_move(phrase, spoken, own, cursor)):
            return self.of_stayed(index, phrase, spoken, own)
        self.is_astray = False
        if wrong := self.wrong_side(index, phrase, spoken, own, cursor):
            return wrong
        if self.is_played(spoken, own):
            return self.of_played(index, phrase, spoken, cursor, own, missing)
        fills = self.fills(index, phrase, own, cursor)
        numbered = any(e.act == "mention" and e.uci for e in own) and self.is_numbered(spoken, cursor)
        if (moved or fills or numbered or self.is_given_up(phrase, own)) and (spoken.piece or spoken.castle):
            said = meant(spoken, cursor)
            if len(said) == 1:
                # It can be played; the decoder did not, to make sense of what comes.
                self.follow(cursor, spoken, said[0])
                return None
        if not moved and own and self.went_on and spoken.piece and self.is_told(phrase, spoken, cursor):
            named = next((e for e in own if e.act == "mention" and e.uci), None)
            if named is not None and len(choices := two_ways(spoken, cursor)) > 1 and not self.is_singled_out(phrase):
                return self.ambiguous(spoken.first, spoken.last, cursor, choices)
        if not own or (not moved and not self.is_move(phrase, spoken, own, cursor)):
            return None
        if self.is_bare(spoken) and not phrase.plural:
            # A bare square that was not taken for the man's it could be is the pawn's.
            spoken = replace(spoken, piece="P")
        if meant(spoken, cursor) or (phrase.take and self.is_hedged(phrase)):
            return None
        return self.unplayable(index, phrase, spoken, cursor)

    def is_pawns(self, spoken: Spoken, board: chess.Board) -> bool:
        """Whether a bare square is a pawn's because one can go there."""
        return self.is_bare(spoken) and bool(meant(replace(spoken, piece="P"), board))

    def overlooked(self, index: int, fault: Fault, began: int) -> Fault | None:
        """The move before one that seems to be missing: it was named, and cannot be played."""
        phrase, cursor = self.phrases[index], self.here(began)
        spoken = self.clear(phrase)
        if spoken is not None and self.is_bare(spoken) and self.words[phrase.first - 1][-1:] == ":":
            # "I'll show you mine: g3."
            spoken = replace(spoken, piece="P")
        if spoken is None or not spoken.piece or spoken.castle or phrase.ref or phrase.asks or self.is_hedged(phrase):
            return None
        if any(e.act in ("play", "retell") and e.first < e.last and self.touches(e, phrase) for e in self.events):
            return None
        if self.spoken_of & set(range(phrase.first, phrase.last)) or any(c.startswith("nav") for c in phrase.inside):
            return None
        if self.is_denied(phrase) or self.phrases[index + 1].gap > APART or meant(spoken, cursor):
            return None
        assert spoken.target is not None
        man = cursor.piece_at(spoken.target)
        if man is not None and man.symbol().upper() == spoken.piece and not spoken.take:
            return None
        found = self.unplayable(index, phrase, spoken, cursor)
        return found if found.kind == "illegal" and found.why not in ("wrong side", "occupied") else None

    def is_return_to(self, spoken: Spoken, own: Sequence[Event]) -> bool:
        """Whether the words lead back to the position after the very move they name."""
        return any(e.act == "return" and e.first < e.last and self.parent_says(spoken, e) for e in own)

    def of_played(
        self, index: int, phrase: Phrase, spoken: Spoken, cursor: chess.Board, own: Sequence[Event], gap: Event | None
    ) -> Fault | None:
        """Faults of a move that was played as said."""
        if gap is not None:
            if self.is_overlooked(spoken, cursor) or self.is_answered_next(index, spoken, cursor):
                return self.unplayable(index, phrase, spoken, cursor)
            said = meant(spoken, cursor)
            if len(said) == 1 and (self.is_numbered(spoken, cursor) or self.goes_with(index, cursor, said[0])):
                self.follow(cursor, spoken, said[0])
                return None
            return self.skipped(spoken.first, spoken.last, cursor, gap.san)
        left = next((e for e in own if e.act == "return" and e.first == e.last), None)
        misplaced = self.is_misplaced(spoken, own, cursor)
        excused = left is not None and (self.turned or self.is_excused(phrase, left, spoken, cursor))
        if left is not None and (misplaced or not excused):
            event = next(e for e in own if e.act in ("play", "retell") and e.first < e.last)
            if self.board(event.node).piece_type_at(chess.Move.from_uci(event.uci).to_square) == chess.PAWN:
                spoken = replace(spoken, piece="P")
            if not (said := meant(spoken, cursor)):
                return self.unplayable(index, phrase, spoken, cursor)
            # The decoder left to make sense of what comes; the script did not.
            self.follow(cursor, spoken, said[0])
            return None
        event = next(e for e in own if e.act in ("play", "retell") and e.first < e.last)
        before = self.board(self.nodes[event.node].parent)
        choices = self.of_same_worth(phrase, two_ways(spoken, before), before)
        if len(choices) < 2 or event.act != "play" or self.is_singled_out(phrase):
            return None
        if not spoken.piece and (phrase.asks or self.is_hedged(phrase)):
            return None
        return self.ambiguous(spoken.first, spoken.last, before, choices)

    def of_stayed(self, index: int, phrase: Phrase, spoken: Spoken, own: Sequence[Event]) -> Fault | None:
        """A move told after the decoder has left the script's own position."""
        assert self.stayed is not None
        if self.is_hedged(phrase) and not meant(spoken, self.stayed):
            self.stayed = None
            return None
        moved = any(e.act in ("play", "retell") and e.first < e.last for e in own)
        left = next((e for e in own if e.act == "return" and e.first == e.last), None)
        if left is not None and self.is_excused(phrase, left, spoken, self.stayed):
            self.stayed = None
            return None
        side = self.side_said(phrase)
        if side is not None and side != self.stayed.turn and moved:
            return self.of_other_side(spoken.first, spoken.last, spoken, self.stayed)
        if said := meant(spoken, self.stayed):
            self.follow(self.stayed, spoken, said[0])
            return None
        return self.unplayable(index, phrase, spoken, self.stayed)

    def follow(self, board: chess.Board, spoken: Spoken, move: chess.Move) -> None:
        """The script's own position after a move that the decoder has not made there."""
        self.followed.append((Event("play", spoken.first, spoken.last, 0, move.uci(), board.san(move)), board.copy()))
        self.stayed = board.copy()
        self.stayed.push(move)

    def taken_back(self, phrase: Phrase, own: Sequence[Event]) -> Fault | None:
        """A recapture that two men of the kind named can make, or of those that take first where none is named."""
        event = next((e for e in own if e.act == "play" and e.uci and e.first < e.last), None)
        if event is None:
            return None
        board = self.board(self.nodes[event.node].parent)
        played = chess.Move.from_uci(event.uci)
        if phrase.ofiles is not None and phrase.ofiles[chess.square_file(played.from_square)] == min(phrase.ofiles):
            # The file was said; "a pawn" is not the a-pawn where that one did not move.
            return None
        men = [
            move
            for move in board.legal_moves
            if move.to_square == played.to_square
            and self.may_take(phrase, board, move, played)
            and move.promotion == played.promotion
        ]
        return self.ambiguous(phrase.first, phrase.last, board, men) if len(men) > 1 else None

    def ambiguous(self, first: int, last: int, board: chess.Board, moves: Sequence[chess.Move]) -> Fault:
        sans = tuple(board.san(move) for move in moves)
        message = f"{self.quoted(first, last)} {self.where(board)} may be {' or '.join(sans)}"
        return Fault("ambiguous", message, first, last, board.fen(), "", sans)

    def unplayable(self, index: int, phrase: Phrase, spoken: Spoken, cursor: chess.Board) -> Fault:
        """An illegal move, or one that a missing move before it would make legal."""
        side = self.side_said(phrase)
        why, clause = why_not(spoken, cursor, side == cursor.turn or self.is_numbered(spoken, cursor))
        # A pinned man that is named has been overlooked; no missing move would free it as a rule.
        overlooked = self.is_overlooked(spoken, cursor) or self.is_answered_next(index, spoken, cursor)
        doubtful = side is None and not overlooked
        if doubtful and (left_out := self.left_out(index, spoken, cursor)):
            return self.skipped(spoken.first, spoken.last, cursor, left_out)
        near = nearest(spoken, cursor)
        message = f"{self.quote(spoken)} cannot be played {self.where(cursor)}: {clause}"
        if near:
            message += f"; legal and near: {', '.join(near)}"
        return Fault("illegal", message, spoken.first, spoken.last, cursor.fen(), why, tuple(near))

    def skipped(self, first: int, last: int, cursor: chess.Board, san: str) -> Fault:
        quoted = self.quoted(first, last)
        message = f"a move is missing before {quoted} {self.where(cursor)}: {name(cursor.turn)}'s, perhaps {san}"
        return Fault("skipped", message, first, last, cursor.fen(), "", (san,))

    def wrong_side(
        self, index: int, phrase: Phrase, spoken: Spoken | None, own: Sequence[Event], cursor: chess.Board
    ) -> Fault | None:
        """A side named as the mover where the other is to move; without `spoken`, of words that are no clear move."""
        side = self.side_said(phrase)
        played = next((e for e in own if e.act in ("play", "retell") and e.first < e.last), None)
        if side is None or played is None:
            return None
        if self.board(self.nodes[played.node].parent).turn == side:
            filled = any(e.origin == "inferred" for e in own)
            if cursor.turn == side or not filled or not self.stands_in(index, spoken, side, cursor):
                return None
        if cursor.turn == side:
            clear = spoken is not None and not meant(spoken, cursor)
            return self.unplayable(index, phrase, spoken, cursor) if spoken is not None and clear else None
        first, last = (phrase.first, phrase.last) if spoken is None else (spoken.first, spoken.last)
        return self.of_other_side(first, last, spoken, cursor)

    def of_other_side(self, first: int, last: int, spoken: Spoken | None, board: chess.Board) -> Fault:
        """A move said to be of the side that is not to move."""
        message = f"{self.quoted(first, last)} cannot be played {self.where(board)}: it is {name(board.turn)}'s move"
        near = nearest(spoken, board) if spoken is not None else []
        return Fault("illegal", message, first, last, board.fen(), "wrong side", tuple(near))
