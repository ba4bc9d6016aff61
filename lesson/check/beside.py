"""The words of a script beside the told tree: what was clearly said, what was played for it, and on which board."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import chess

from lesson.check.legal import Spoken, clearly, is_said
from lesson.check.notation import exactly, is_written
from lesson.check.returns import Announced
from lesson.hear.phrases import Phrase
from lesson.model import Decoded, Event

VERB = (
    r"plays?|played|takes?|took|castle[sd]?|goes|went|answer(?:s|ed)?|move[sd]?|repl(?:y|ies|ied)|respond(?:s|ed)?|"
    r"open(?:s|ed)|retreat(?:s|ed)|(?:re)?capture[sd]?|retakes?|retook|develop(?:s|ed)|push(?:es|ed)|tries|tried|"
    r"continue[sd]?|chooses?|chose|puts?|place[sd]?|advance[sd]?|strikes?|struck|follow(?:s|ed)|builds?|built|"
    r"brings?|brought|sends?|sent|throws?|threw|swings?|swung|lifts?|lifted|slides?|slid|hops?|hopped|jump(?:s|ed)?|"
    r"steps?|stepped|swaps?|swapped|trade[sd]?|exchange[sd]?|begins?|began|starts?|started|counter(?:s|ed)|reacts?|"
    r"reacted|improve[sd]?|fianchettoe[sd]|offer(?:s|ed)|grabs?|grabbed|snatche[sd]|wins?|pins?|pinned|nudge[sd]|"
    r"march(?:es|ed)|retire[sd]|withdraws?|withdrew|returns?|returned|drops?|dropped|posts?|posted|shifts?|shifted|"
    r"thrusts?|hits?|challenge[sd]|attacks?|attacked|gives?|gave|checks?|checked|blocks?|blocked"
)
"""Verbs that tell a move being made."""

STATIC = (
    r"is|was|has|stands|sits|eye[ds]|owns|controls|controlled|attacks|attacked|guards|guarded|covers|covered|sees|looks|"
    r"looked|stares|belongs|belonged|needs|needed|wants|wanted|dreams|dreamed|hits|defends|defended|protects|protected|"
    r"watches|watched|points|pointed|aims|aimed|bears|presses|pressed|threatens|threatened|pins|pinned|misses|missed|"
    r"fears|feared|lives|lived|bites|depends|relies|focuses|concentrates|works|rests|remains|stays|counts|hangs|"
    r"pieces|pawns|knights|bishops|rooks|queens|kings|squares|men|always|perhaps|unless|towards"
)
"""Verbs of what a man does where it stands, and what only looks like a verb."""

_FILE = re.compile(r"\b([a-h])(?:-pawn|-rook|-knight)?[- ](?:to |takes |takes on )?[a-h]-?[1-8]\b")
_WITH = re.compile(r"\b(white|black) (?:\w+ly )?(?!is |was |has |had )\w+(?:s|ed)\b[^,;:]* with\b")
_SUBJECT = re.compile(
    r"\b(white|black)(?:'s (?:\w+ )?(?:king|queen|rook|bishop|knight|pawn))?\s+"
    rf"(?:simply |just |now |then |next |at once |again |(?:\w+ly) )*(?:{VERB})\b|"
    r"(?<!is )(?<!was )(?<!as )\b(white|black)'s (?:\w+ )?(?:move|reply|answer|response|choice|next|turn|retort)\b|"
    r"\b(?:it is|it's|now) (white|black)(?:'s (?:turn|move)| to (?:move|play))\b"
)
# What may not stand between the side that makes a move and the move: another clause begins there.
_ELSE = re.compile(r"\b(?:and|so|but|after|when|while|which|because|if|since|as|against|before)\b")
_MET = re.compile(r"\b(?:met|answered|countered|followed|parried|refuted|opposed|greeted) (?:by|with)\b")
_MEN = re.compile(r"\b(?:king|queen|rook|bishop|knight|pawn|horse)\b")
_BARE = re.compile(rf"\b(?:{VERB}|with) [a-h]-?[1-8]\W*$")
_LETTERS = {"king": "K", "queen": "Q", "rook": "R", "bishop": "B", "knight": "N", "horse": "N", "pawn": "P"}
_MOVER = re.compile(
    rf"\b({'|'.join(_LETTERS)}) (?:on|from) ([a-h]-?[1-8]),? (?:now |then |\w+ly )*"
    rf"(?:{VERB}|(?!(?:{STATIC})\b)[a-z]+(?:s|ed))"
    r" (?:(?:back|over|up|down|out|across|away|into?|to|on|onto|for) )*[a-h]-?[1-8]\W*$"
)
# What takes is the man before the verb, not the one that is taken: "the knight snaps off the pawn on d4".
_TAKER = re.compile(
    r"\b(king|queen|rook|bishop|knight) (?:now |then |simply |just |\w+ly )*"
    r"(?:takes?|took|captures?|snaps?|grabs?|wins?|picks?|eats?|snatches|removes?|collects?|gobbles|munches|nabs?|chops?|"
    r"swipes?|devours?|swallows?|captured|snapped|grabbed|won|picked|ate|snatched|removed|"
    r"collected) (?:off |up |away |out )?"
    r"(?:(?:the|a|that|his|her|white's|black's|\w+) ){1,3}(?:pawn|knight|bishop|rook|queen) on [a-h]-?[1-8]\W*$"
)


@dataclass(frozen=True, slots=True)
class Reading:
    """A script as it was read: its words, the phrases heard and the tree the decoder told. `spoken_of` are the words of
    claims, `paragraphs` the first words of paragraphs, `returns` those announced; `numbers` are the numbers and sides
    written before moves, by the move's word."""

    words: Sequence[str]
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
        self.words, self.phrases = reading.words, reading.phrases
        self.nodes, self.events = reading.decoded.nodes, reading.decoded.events
        self.boards: dict[int, chess.Board] = {}
        self.written = is_written(self.words)

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
            self.written
            and phrase.last - phrase.first == 1
            and (read := exactly(self.words[phrase.first], phrase.first))
        ):
            return read
        spoken = self.answering(clearly(phrase))
        if spoken is None or spoken.file is not None or spoken.origin is not None:
            return spoken
        if spoken.piece in ("", "P") and not spoken.castle:
            if man := self.mover(phrase):
                return replace(spoken, piece=man[0], origin=man[1])
            if taker := _TAKER.search(self.sentence_before(phrase)):
                return replace(spoken, piece=_LETTERS[taker[1]], take=True)
        found = _FILE.search(" ".join(self.words[phrase.first : phrase.last]).lower())
        return spoken if found is None else replace(spoken, file="abcdefgh".index(found[1]))

    def mover(self, phrase: Phrase) -> tuple[str, int] | None:
        """The man, and its square, that a bare square right behind a verb is said of: "the knight on c3 goes to e4"."""
        found = _MOVER.search(self.sentence_before(phrase))
        return None if found is None else (_LETTERS[found[1]], chess.parse_square(found[2].replace("-", "")))

    def answering(self, spoken: Spoken | None) -> Spoken | None:
        """The move, without a man that stands for the move it answers: "the king's pawn is met by c5"."""
        if spoken is None or not spoken.piece or spoken.castle:
            return spoken
        text = " ".join(self.words[spoken.first : spoken.last]).lower()
        found = _MET.search(text)
        return replace(spoken, piece="") if found and not _MEN.search(text[found.end() :]) else spoken

    def is_announcement(self, phrase: Phrase, following: Phrase | None) -> bool:
        """Whether a move is told again at once, with its square: "White recaptures, c takes d5", "Black does the same,
        knight f6", "the king must move: king f1"."""
        if phrase.kind not in ("take", "mirror", "piece") or following is None or following.gap > 1:
            return False
        if following.gap + following.ends and self.words[following.first - 1][-1:] != ":":
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
        """Whether a square is named alone, or right behind a verb without a man: then it is a pawn's."""
        if spoken.piece or spoken.castle or spoken.take:
            return False
        text = " ".join(self.words[spoken.first : spoken.last]).lower()
        at = spoken.first
        while at and self.words[at - 1][-1:] not in ".?!;:,":
            at -= 1
        if _MEN.search(" ".join(self.words[at : spoken.first]).lower()):
            # "The knight on c3 goes to e4."
            return False
        return spoken.last - spoken.first == 1 or bool(_BARE.search(text))

    def side_said(self, phrase: Phrase) -> chess.Color | None:
        """The side said to make the move ("Black plays"), None where none is."""
        own = " ".join(self.words[min(phrase.lead, phrase.first) : phrase.last]).lower()
        if found := list(_SUBJECT.finditer(own)) or list(_WITH.finditer(own)):
            return _side(found[-1])
        if phrase.ref:
            return None
        at = bisect_left(self.phrases, phrase.first, key=lambda p: p.first)
        told = (p for p in reversed(self.phrases[max(at - 2, 0) : at]) if p.last <= phrase.first)
        start = next((p.last for p in told if not self.is_announcement(p, phrase)), 0)
        while start < phrase.first and any(word[-1:] in ".?!;" for word in self.words[start : phrase.first]):
            start += 1
        before = " ".join(self.words[start : phrase.last]).lower()
        found = list(_SUBJECT.finditer(before))
        return None if not found or _ELSE.search(before[found[-1].start() :]) else _side(found[-1])

    def sentence_before(self, phrase: Phrase) -> str:
        """The words of the phrase's sentence before it."""
        at = phrase.first
        while at and self.words[at - 1][-1:] not in ".?!;:":
            at -= 1
        return " ".join(self.words[at : phrase.last]).lower()

    def quote(self, spoken: Spoken) -> str:
        return self.quoted(spoken.first, spoken.last)

    def quoted(self, first: int, last: int) -> str:
        return '"' + " ".join(self.words[first:last]).strip(".,;:!?") + '"'

    def where(self, board: chess.Board) -> str:
        """ "after 4. Qh5+", "in the position it starts from"."""
        if not board.move_stack:
            return "in the position it starts from"
        before = board.copy()
        move = before.pop()
        return f"after {before.fullmove_number}.{'' if before.turn else '..'} {before.san(move)}"
