"""The span score: of the stretches marked in a talk, the share whose act and move are right.

A marked stretch counts when words were said for it. Its words are carried from the exact words to the heard ones by
`lesson.align`; where none of them was heard, it is widened by a word on either side. An event *touches* a stretch when
they share a word, or when the event has no words and stands inside or at an end of the stretch. Told right means:

- play, retell of one move: some touching event plays or retells the same move. The position may differ, because of an
  earlier slip: same move means same kind of piece, same target square, same promotion (castling: same side), or the
  same UCI move. An event answers for one stretch only, so "takes, takes" needs two.
- retell of several moves: no touching event plays a move that answers for no other stretch, and the last touching
  retelling or return ends on the true position's last move (same move as above; or both at a chapter's start).
- mention: no touching event plays or retells a move, unless it answers for a played stretch. Silence is right.
- return: some touching return ends on the true position's last move; or, whatever was made of the words, the next
  move played or retold from there on starts from a position with the true last move.
- chapter: some touching chapter event starts from the true position (board and side to move); or the next move played
  or retold from there on is the first of a chapter with that start.

What was marked "play" may be told as "retell" and the other way round: which of the two it is follows from the tree.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import chess

from lesson.align import align_words, map_range
from lesson.model import Decoded, Event, Node, Talk
from tests.accuracy.gold import GoldTalk, Span

Range = tuple[int, int]
MOVES = ("play", "retell")
_SAN = re.compile(r"([KQRBN]?)[a-h]?[1-8]?x?([a-h][1-8])(?:=([QRBN]))?")


@dataclass(frozen=True, slots=True)
class Verdict:
    """A marked stretch, the heard words it was carried to, and whether it was told right."""

    span: Span
    words: Range
    right: bool


def same_move(san: str, other: str) -> bool:
    """Whether two SAN moves have the same piece, target and promotion, or castle to the same side."""
    return bool(san) and bool(other) and _signature(san) == _signature(other)


def heard_range(ranges: Sequence[Range], words: Range, heard: int) -> Range:
    """The heard words of a marked stretch, given the alignment; never empty in a talk of `heard` > 0 words."""
    first, last = map_range(ranges, *words)
    return (first, last) if first < last else (max(0, first - 1), min(heard, last + 1))


def judge_spans(gold: GoldTalk, talk: Talk, decoded: Decoded) -> list[Verdict]:
    """Judge every marked stretch that has words, in the order told."""
    heard = [word.text for word in talk.words]
    ranges = align_words(gold.words, heard)
    spans = [
        (span, heard_range(ranges, span.words, len(heard))) for span in gold.spans if span.words[0] < span.words[1]
    ]
    judge = _Judge(gold, decoded)
    # played stretches claim their events first: a mention beside one must not be blamed for it
    order = sorted(range(len(spans)), key=lambda i: spans[i][0].act not in MOVES or not spans[i][0].san)
    right = {i: judge(*spans[i]) for i in order}
    return [Verdict(span, words, right[i]) for i, (span, words) in enumerate(spans)]


class _Judge:
    """Holds what has been used up so far: an event answers for one stretch only."""

    def __init__(self, gold: GoldTalk, decoded: Decoded) -> None:
        self.gold, self.nodes, self.events = gold, decoded.nodes, decoded.events
        self.claimed: set[int] = set()
        self.rules: dict[str, Callable[[Span, Range], bool]] = {
            "play": self._move,
            "retell": self._move,
            "mention": self._mention,
            "return": self._return,
            "chapter": self._chapter,
        }

    def __call__(self, span: Span, words: Range) -> bool:
        return self.rules[span.act](span, words)

    def _touching(self, words: Range, *acts: str) -> Iterator[tuple[int, Event]]:
        first, last = words
        for i, event in enumerate(self.events):
            shares = event.first < last and event.last > first
            inside = event.first == event.last and first <= event.first <= last
            if (shares or inside) and event.act in acts:
                yield i, event

    def _move(self, span: Span, words: Range) -> bool:
        if not span.san:
            return self._recapitulation(span, words)
        for i, event in self._touching(words, *MOVES):
            if i not in self.claimed and (same_move(event.san, span.san) or event.uci == span.path[-1]):
                self.claimed.add(i)
                return True
        return False

    def _recapitulation(self, span: Span, words: Range) -> bool:
        if any(i not in self.claimed for i, _ in self._touching(words, "play")):
            return False
        told = list(self._touching(words, "retell", "return"))
        if not told or not self._stands(self.nodes[told[-1][1].node], span):
            return False
        self.claimed.update(i for i, _ in told)
        return True

    def _mention(self, span: Span, words: Range) -> bool:
        return all(i in self.claimed for i, _ in self._touching(words, *MOVES))

    def _return(self, span: Span, words: Range) -> bool:
        if any(self._stands(self.nodes[event.node], span) for _, event in self._touching(words, "return")):
            return True
        start = self._next_start(words)
        return start is not None and self._stands(start, span)

    def _chapter(self, span: Span, words: Range) -> bool:
        starts = [self._root(event.node) for _, event in self._touching(words, "chapter")]
        follows = self._next_start(words)
        if follows is not None and follows.parent < 0:
            starts.append(follows)
        return any(node.fen.split()[:2] == span.fen.split()[:2] for node in starts)

    def _next_start(self, words: Range) -> Node | None:
        """The position from which the next move is played or retold, from the stretch's first word on."""
        for event in self.events:
            if event.act in MOVES and event.first >= words[0]:
                node = self.nodes[event.node]
                return self.nodes[node.parent] if node.parent >= 0 else node
        return None

    def _root(self, id: int) -> Node:
        node = self.nodes[id]
        while node.parent >= 0:
            node = self.nodes[node.parent]
        return node

    def _stands(self, node: Node, span: Span) -> bool:
        """Whether a told position has the last move of the span's true position."""
        if not span.path or node.parent < 0:
            return not span.path and node.parent < 0
        return node.uci == span.path[-1] or same_move(node.san, self._last_san(span))

    def _last_san(self, span: Span) -> str:
        board = chess.Board(self.gold.starts[span.chapter])
        for uci in span.path[:-1]:
            board.push_uci(uci)
        return board.san(chess.Move.from_uci(span.path[-1]))


def _signature(san: str) -> tuple[str, ...]:
    plain = san.rstrip("+#!?")
    match = _SAN.fullmatch(plain)
    return (match[1] or "P", match[2], match[3] or "") if match else (plain,)
