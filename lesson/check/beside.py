"""The words of a script beside the told tree: what was clearly said, what was played for it, and on which board."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import chess

from lesson.check.hearing import heard, man
from lesson.check.legal import Spoken, clearly, is_said
from lesson.check.notation import exactly, is_written
from lesson.check.returns import Announced
from lesson.hear.phrases import Phrase
from lesson.model import Decoded, Event

# Words between the announcement of a move and the colon behind which it is told.
_ANNOUNCED = 5
_STOPS = tuple(".?!;:")
_CLOSING = ")]\"'*_\u201d"


@dataclass(frozen=True, slots=True)
class Reading:
    """A script as it was read: its words as they are heard and as they are `written`, the phrases heard and the tree
    told. `spoken_of` are the words of claims, `paragraphs` the first words of paragraphs, `returns` those announced;
    `numbers` are the numbers and sides written before moves, by the move's word."""

    words: Sequence[str]
    written: Sequence[str]
    phrases: Sequence[Phrase]
    decoded: Decoded
    spoken_of: set[int]
    paragraphs: set[int]
    returns: Sequence[Announced]
    numbers: Mapping[int, tuple[int, bool]]


def _side(found: re.Match[str]) -> chess.Color:
    return "white" in found.groups()


class Told:
    """A script and the tree the decoder told of it."""

    def __init__(self, reading: Reading) -> None:
        self.words, self.written, self.phrases = reading.words, reading.written, reading.phrases
        self.nodes, self.events = reading.decoded.nodes, reading.decoded.events
        self.boards: dict[int, chess.Board] = {}
        self.numbers = reading.numbers
        self.in_notation = is_written(self.words)

    def board(self, node: int) -> chess.Board:
        """The position of a node, with the moves that led to it."""
        if node not in self.boards:
            here = self.nodes[node]
            board = chess.Board(here.fen) if here.parent < 0 else self.board(here.parent).copy()
            if here.parent >= 0:
                board.push_uci(here.uci)
            self.boards[node] = board
        return self.boards[node]

    def first_event(self, phrase: Phrase) -> int:
        """The first event of the phrase's own, unspoken ones right before it included."""
        return next(
            (i for i, e in enumerate(self.events) if e.last > phrase.first or e.first >= phrase.first), len(self.events)
        )

    def touches(self, event: Event, phrase: Phrase) -> bool:
        if event.first == event.last:
            return event.first == phrase.first
        return event.first < phrase.last and event.last > phrase.first

    def is_played(self, spoken: Spoken, own: Sequence[Event]) -> bool:
        return any(
            e.act in ("play", "retell") and e.uci and e.first < e.last and self.parent_says(spoken, e) for e in own
        )

    def parent_says(self, spoken: Spoken, event: Event) -> bool:
        here = self.nodes[event.node]
        return here.parent >= 0 and is_said(spoken, self.board(here.parent), chess.Move.from_uci(here.uci))

    def clear(self, phrase: Phrase) -> Spoken | None:
        """The move a phrase names beyond doubt, with the file written before its square: "rook a d1", "a takes b5"."""
        if (
            self.in_notation
            and phrase.last - phrase.first == 1
            and (read := exactly(self.words[phrase.first], phrase.first))
        ):
            return read
        spoken = self.answering(clearly(phrase))
        if spoken is None or spoken.file is not None or spoken.origin is not None:
            return spoken
        if spoken.piece in ("", "P") and not spoken.castle:
            if mover := self.mover(phrase):
                return replace(spoken, piece=mover[0], origin=mover[1])
            if taker := heard("taker").search(self.sentence_before(phrase)):
                return replace(spoken, piece=man(taker[1]), take=True)
        elif spoken.piece and heard("asked-with").search(self.sentence_before(phrase)):
            return replace(spoken, piece="")
        found = heard("file").search(" ".join(self.words[phrase.first : phrase.last]).lower())
        return spoken if found is None else replace(spoken, file="abcdefgh".index(found[1]))

    def mover(self, phrase: Phrase) -> tuple[str, int] | None:
        """The man, and its square, that a bare square right behind a verb is said of: "the knight on c3 goes to e4"."""
        found = heard("mover").search(self.sentence_before(phrase))
        return None if found is None else (man(found[1]), chess.parse_square(found[2].replace("-", "")))

    def answering(self, spoken: Spoken | None) -> Spoken | None:
        """The move, without a man that stands for the move it answers: "the king's pawn is met by c5"."""
        if spoken is None or not spoken.piece or spoken.castle:
            return spoken
        text = " ".join(self.words[spoken.first : spoken.last]).lower()
        found = heard("met").search(text)
        return replace(spoken, piece="") if found and not heard("man").search(text[found.end() :]) else spoken

    def is_announcement(self, phrase: Phrase, following: Phrase | None) -> bool:
        """Whether a move is told again at once, with its square: "White recaptures, c takes d5", "Black does the same,
        knight f6", "the king must move: king f1"."""
        if phrase.kind not in ("take", "mirror", "piece") or following is None:
            return False
        at = following.first - 1
        while at > phrase.last and not any(map(str.isalnum, self.words[at])):
            # The number of a written move is silent.
            at -= 1
        colon = self.words[at][-1:] == ":" and following.ends == 1
        if following.gap > (_ANNOUNCED if colon else 0) or (following.ends and not colon):
            return False
        spoken = self.clear(following)
        if spoken is None:
            return False
        if phrase.kind == "piece":
            return bool(phrase.piece) and spoken.piece == phrase.piece
        return spoken.take or phrase.kind == "mirror"

    def is_exact(self, phrase: Phrase) -> bool:
        """Whether the phrase is one word of notation with the letter of its man, which hardly stands for a square."""
        word = self.words[phrase.first]
        return phrase.last - phrase.first == 1 and word.lstrip("(*_")[:1] in "NBRQKO0" and exactly(word, 0) is not None

    def is_bare(self, spoken: Spoken) -> bool:
        """Whether a square is named in one word and no man before it: then it is a pawn's."""
        if spoken.piece or spoken.castle or spoken.take:
            return False
        at = spoken.first
        while at and self.words[at - 1][-1:] not in ".?!;:,":
            at -= 1
        if heard("man").search(" ".join(self.words[at : spoken.first]).lower()):
            # "The knight on c3 goes to e4."
            return False
        return spoken.last - spoken.first == 1

    def side_said(self, phrase: Phrase) -> chess.Color | None:
        """The side said to make the move ("Black plays"), None where none is."""
        own = " ".join(self.words[min(phrase.lead, phrase.first) : phrase.last]).lower()
        if found := list(heard("subject").finditer(own)) or list(heard("subject-with").finditer(own)):
            return _side(found[-1])
        if phrase.ref:
            return None
        at = bisect_left(self.phrases, phrase.first, key=lambda p: p.first)
        told = (p for p in reversed(self.phrases[max(at - 2, 0) : at]) if p.last <= phrase.first)
        start = next((p.last for p in told if not self.is_announcement(p, phrase)), 0)
        while start < phrase.first and any(word[-1:] in ".?!;" for word in self.words[start : phrase.first]):
            start += 1
        before = " ".join(self.words[start : phrase.last]).lower()
        found = list(heard("subject").finditer(before))
        return None if not found or heard("clause").search(before[found[-1].start() :]) else _side(found[-1])

    def sentence_before(self, phrase: Phrase) -> str:
        """The words of the phrase's sentence before it."""
        at = phrase.first
        while at and self.words[at - 1].rstrip(_CLOSING)[-1:] not in _STOPS:
            at -= 1
        return " ".join(self.words[at : phrase.last]).lower()

    def around(self, phrase: Phrase) -> str:
        """The words of a phrase and a few behind it."""
        return " ".join(self.words[phrase.first : phrase.last + 3]).lower()

    def quote(self, spoken: Spoken) -> str:
        return self.quoted(spoken.first, spoken.last)

    def quoted(self, first: int, last: int) -> str:
        return '"' + " ".join(self.written[first:last]).strip(".,;:!?") + '"'

    def where(self, board: chess.Board) -> str:
        """ "after 4. Qh5+", "in the position it starts from"."""
        if not board.move_stack:
            return "in the position it starts from"
        before = board.copy()
        move = before.pop()
        return f"after {before.fullmove_number}.{'' if before.turn else '..'} {before.san(move)}"
