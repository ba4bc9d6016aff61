"""A move beside the one told before it and the one told next: its number, and whether one is missing between them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import chess

from lesson.check.beside import Reading
from lesson.check.hearing import heard
from lesson.check.hints import Hints
from lesson.check.legal import Spoken, is_said, meant, other_side, why_not
from lesson.exchanges import VALUES
from lesson.hear.phrases import Phrase
from lesson.model import Event

# Words that may stand between two moves told one after the other.
APART = 2
# So many written numbers that are those of the board make the next one believed.
HOLDS = 2
# The men that take back where nothing is said: heavier ones do so where no other can.
_TAKE_FIRST = (chess.PAWN, chess.KNIGHT, chess.BISHOP)


class Neighbours(Hints):
    """What the moves before and after say of one."""

    def __init__(self, reading: Reading) -> None:
        super().__init__(reading)
        # Written numbers so far that are those of the board.
        self.numbers_hold = 0

    def is_singled_out(self, phrase: Phrase) -> bool:
        """Whether other words than its square say which of two men it is."""
        return phrase.other or bool(heard("which").search(self.sentence_before(phrase)))

    def of_same_worth(self, phrase: Phrase, moves: list[chess.Move], board: chess.Board) -> list[chess.Move]:
        """The captures that may be meant: an exchange is of a man for another of its worth."""
        if not heard("swaps").search(self.sentence_before(phrase)):
            return moves
        worth = [VALUES[board.piece_type_at(m.to_square) or chess.PAWN] for m in moves]
        men = [VALUES[board.piece_type_at(m.from_square) or chess.PAWN] for m in moves]
        alike = [m for m, taken, own in zip(moves, worth, men, strict=True) if own == taken and board.is_capture(m)]
        return alike or moves

    def is_again(self, phrase: Phrase, spoken: Spoken, board: chess.Board) -> bool:
        """Whether the words say once more the move just made: "the bishop goes to a6, 13...Ba6"."""
        if not board.move_stack or phrase.gap > 0 or meant(spoken, board) or phrase.first not in self.numbers:
            return False
        before = board.copy()
        move = before.pop()
        return is_said(spoken, before, move) and self.numbers[phrase.first] == (before.fullmove_number, before.turn)

    def goes_with(self, index: int, board: chess.Board, move: chess.Move) -> bool:
        """Whether the move told next can be played after a move."""
        following = self.clear(self.phrases[index + 1]) if index + 1 < len(self.phrases) else None
        after = board.copy(stack=False)
        after.push(move)
        return following is not None and bool(meant(following, after))

    def fills(self, index: int, phrase: Phrase, own: Sequence[Event], board: chess.Board) -> bool:
        """Whether a move only named, as the decoder has it, is the one it misses before the move told next."""
        named = next((e for e in own if e.act == "mention" and e.uci), None)
        if named is None or phrase.asks or self.is_hedged(phrase) or index + 1 == len(self.phrases):
            return False
        following = self.phrases[index + 1]
        gap = any(e.origin == "inferred" and e.first == e.last == following.first for e in self.events)
        move = chess.Move.from_uci(named.uci)
        return gap and following.gap <= APART and board.is_legal(move) and self.goes_with(index, board, move)

    def is_numbered(self, spoken: Spoken, board: chess.Board) -> bool:
        """Whether the move has a number, and it is that of the position. One that stands alone between a number and the
        next may be of either side."""
        number = self.numbers.get(spoken.first)
        following = next((p.first for p in self.phrases if p.first > spoken.first), -1)
        alone = number is not None and number[1] and self.numbers.get(following) == (number[0] + 1, chess.WHITE)
        if alone and meant(spoken, other_side(board)):
            return False
        return self.numbers.get(spoken.first) == (board.fullmove_number, board.turn)

    def is_overlooked(self, spoken: Spoken, board: chess.Board) -> bool:
        """Whether no missing move explains one that cannot be played: its number is that of the position, or the man
        named is pinned, or leaves its king in check."""
        if meant(spoken, board):
            return False
        if self.is_numbered(spoken, board):
            return True
        return bool(spoken.piece) and why_not(spoken, board)[0] in ("pinned", "in check")

    def is_answered_next(self, index: int, spoken: Spoken, board: chess.Board) -> bool:
        """Whether the other side is said to make the move told next, so that this one is of the side to move."""
        following = self.phrases[index + 1] if index + 1 < len(self.phrases) else None
        if following is None or following.gap > APART or meant(spoken, board):
            return False
        return self.side_said(following) == (not board.turn)

    def left_out(self, index: int, spoken: Spoken, board: chess.Board) -> str:
        """A move that, played first, makes this one and the next clear one legal; "" if there is none."""
        following = [s for p in self.phrases[index + 1 : index + 3] if (s := self.clear(p)) is not None and p.ends == 0]
        found = []
        for move in board.legal_moves:
            after = board.copy(stack=False)
            after.push(move)
            for said in meant(spoken, after):
                then = after.copy(stack=False)
                then.push(said)
                if following and meant(following[0], then):
                    found.append(move)
        return board.san(min(found, key=chess.Move.uci)) if found else ""

    def stands_in(self, index: int, spoken: Spoken | None, side: chess.Color, board: chess.Board) -> bool:
        """Whether a move of `side` is told in place of the other side's, not with that one left out: then `side` moves
        next as well, or the other side could make the very move."""
        following = self.phrases[index + 1] if index + 1 < len(self.phrases) else None
        if following is not None and (named := self.side_said(following)) is not None:
            return named == side
        after = other_side(board)
        then = None if following is None else self.clear(following)
        if spoken is not None and then is not None and (said := meant(spoken, after)):
            after.push(said[0])
            own, others = meant(then, other_side(after)), meant(then, after)
            if bool(own) != bool(others):
                return bool(own)
        return spoken is not None and bool(meant(spoken, board))

    def boards_before(self, board: chess.Board, began: int) -> Iterator[chess.Board]:
        """A position and those that led to it, the nearest first; then all told before, the last first."""
        yield board
        while board.move_stack:
            board = board.copy()
            board.pop()
            yield board
        told = dict.fromkeys(e.node for e in reversed(self.events[:began]) if e.act in ("play", "retell"))
        yield from map(self.board, told)

    def is_where_written(self, spoken: Spoken, own: Sequence[Event]) -> bool:
        """Whether the decoder has made a move where its number says."""
        made = (e for e in own if e.act in ("play", "retell") and e.uci and e.first < e.last)
        parents = (self.nodes[e.node].parent for e in made if self.parent_says(spoken, e))
        return any(number_of(self.board(p)) == self.numbers.get(spoken.first) for p in parents)

    def is_misplaced(self, spoken: Spoken, own: Sequence[Event], board: chess.Board) -> bool:
        """Whether a move has the number that comes next and the decoder has made it where another would."""
        next_ = self.numbers_hold >= HOLDS and number_of(board) == self.numbers.get(spoken.first)
        return next_ and not self.is_where_written(spoken, own)

    def may_take(self, phrase: Phrase, board: chess.Board, move: chess.Move, played: chess.Move) -> bool:
        """Whether a capture may be meant as well as the one that was played."""
        kind = board.piece_type_at(move.from_square)
        if phrase.piece:
            return kind == board.piece_type_at(played.from_square)
        back = heard("takes-back").search(self.around(phrase)) and board.move_stack
        return bool(back) and board.peek().to_square == move.to_square and kind in _TAKE_FIRST


def number_of(board: chess.Board) -> tuple[int, chess.Color]:
    """The number and the side of the move that comes next."""
    return board.fullmove_number, board.turn
