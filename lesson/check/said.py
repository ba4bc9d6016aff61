"""Claims of a whole talk, each judged on the position it is about."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import takewhile
from operator import attrgetter

import chess

from lesson import facts
from lesson.hear.claims import Claim, find_claims
from lesson.hear.clauses import Clauses, Man
from lesson.hear.tokens import sentences
from lesson.judge.claims import judge
from lesson.judge.scene import Judgement, Scene
from lesson.judge.standing import matching
from lesson.model import Decoded, Event, Finding, Talk


@dataclass(frozen=True, slots=True)
class Said:
    """A claim, what the board says to it, and the event (its index) and node at whose position it was judged."""

    claim: Claim
    judgement: Judgement
    event: int | None
    node: int


# Claims counted up when an exchange is over.
_COUNTED = frozenset(("up", "down", "level", "trade"))
# Moves told in one breath, at most.
_BREATH = 4
# Events before and after a claim among which a man is looked for that does not stand where it was said to.
_NEAR = 12
# More than the moves of any position.
_MATE_NODES = 300
# How far before a claim a move nobody made may be named, in tokens.
_WINDOW = 25
# Their own words name a move.
_OF_CASTLING = frozenset(("uncastled", "cannotcastle"))
_word_of = attrgetter("word")


class Claims:
    """The claims of a talk on the tree the decoder told."""

    def __init__(self, words: Sequence[str], decoded: Decoded) -> None:
        self.claims, self.sentences = find_claims(words, supposed=True), sentences(tuple(words))
        self.clauses = _clauses(tuple(words))
        self.words, self.nodes, self.events = words, decoded.nodes, decoded.events
        self._scenes: dict[int, Scene] = {}

    def judged(self) -> Iterator[Said]:
        """Every claim in order. What is false at its place but true of the move the sentence goes on to is true."""
        for claim in self.claims:
            here = self.place(claim)
            if claim.supposed >= 0 and (here is None or self.events[here].first < claim.supposed):
                # Supposed, and nobody has shown it on the board.
                continue
            node = 0 if here is None else self.events[here].node
            found = judge(claim, self.scene(node))
            if found.truth == "false":
                for scene in self.other_scenes(claim, here):
                    other = judge(claim, scene)
                    found = other if other.truth != "false" else found
                    if other.truth == "true":
                        break
                else:
                    aside = here is not None and self.is_aside(claim, self.events[here])
                    if aside or self.is_of_absent(claim, here) or self.is_elsewhere(claim, here):
                        found = Judgement("undecidable")
            yield Said(claim, found, here, node)

    def place(self, claim: Claim) -> int | None:
        """The last event that begins before the words the claim turns on; None before the first."""
        found = None
        for index, event in enumerate(self.events):
            if event.first > claim.core or (event.first == event.last == claim.core):
                break
            own = claim.kind in _OF_CASTLING and event.last > claim.core
            if not own and (event.act != "talk" or event.reason):
                found = index
        return found

    def scene(self, node: int) -> Scene:
        """The position of a node and how it came about."""
        known = self._scenes.get(node)
        if known is None:
            here = self.nodes[node]
            board = chess.Board(here.fen)
            if here.parent < 0:
                known = Scene(board, line=() if here.fen == chess.STARTING_FEN else None)
            else:
                before = self.scene(here.parent)
                line = None if before.line is None else (*before.line, here.uci)
                known = Scene(board, before.board, chess.Move.from_uci(here.uci), line)
            self._scenes[node] = known
        return known

    def other_scenes(self, claim: Claim, here: int | None) -> Iterator[Scene]:
        """Where else the claim may be meant: after a move only mentioned, after one told in the same breath, or after
        the ones its sentence goes on to."""
        if here is not None:
            event = self.events[here]
            if event.act == "mention" and event.uci:
                yield self.after(event)
            for other in self.events[max(here - _BREATH, 0) : here]:
                if other.uci and other.first <= claim.core < other.last:
                    yield self.after(other) if other.act == "mention" else self.scene(other.node)
            if event.first <= claim.core < event.last:
                # Many moves told over again in one stretch.
                yield from map(self.scene, self.on_the_way(event.node, event.last - event.first))
        later = [e for e in self.events[0 if here is None else here + 1 :] if e.first >= claim.core]
        for other in list(takewhile(lambda e: e.act not in ("return", "chapter"), later[:_BREATH]))[1:]:
            # "He takes the rook, a pawn up, and he takes the bishop": counted when the exchange is over.
            if other.uci and self.sentence(other.first) - self.sentences[claim.core] <= (claim.kind in _COUNTED):
                yield self.after(other) if other.act == "mention" else self.scene(other.node)
        if later and later[0].act != "return" and (later[0].uci or later[0].act == "chapter"):
            told = here is not None and self.sentence(self.events[here].first) == self.sentences[claim.core]
            apart = self.sentence(later[0].first) - self.sentences[claim.core]
            # "What does a horse do best? A fork. Knight e7": a sentence without a move may announce the next.
            if apart <= (0 if told else 1):
                yield self.after(later[0]) if later[0].act == "mention" else self.scene(later[0].node)

    def on_the_way(self, node: int, most: int) -> list[int]:
        """The nodes before a node, the nearest first, at most so many."""
        found: list[int] = []
        while len(found) < most and self.nodes[node].parent >= 0:
            node = self.nodes[node].parent
            found.append(node)
        return found

    def is_of_absent(self, claim: Claim, here: int | None) -> bool:
        """Whether a man is named on a square where none such stands, but stood or will stand: the talk is of then."""
        node = 0 if here is None else self.events[here].node
        placed = [m for m in (*claim.agents, *claim.targets, *claim.behind) if m.piece and m.square]
        absent = [m for m in placed if not matching(self.scene(node).board, m, list(chess.COLORS))]
        near = self.events[max((here or 0) - _NEAR, 0) : (here or 0) + _NEAR]
        return any(matching(self.scene(e.node).board, m, list(chess.COLORS)) for m in absent for e in near)

    def after(self, event: Event) -> Scene:
        """The position after a move that was mentioned, not played."""
        scene = self.scene(event.node)
        move = chess.Move.from_uci(event.uci)
        return _pushed(scene, move) if scene.board.is_legal(move) else scene

    def is_elsewhere(self, claim: Claim, here: int | None) -> bool:
        """Whether the claim may be about a move the words name and nobody has made: then it is not about this position.

        Between the last event and the claim stands a supposition, or a man or a square with which a move, of either
        side, would make it true; or the claim is of a check or a mate that is itself the next move.
        """
        event = self.events[here] if here is not None else None
        if self.nodes[event.node if event is not None else 0].fen == chess.STARTING_FEN:
            # Before the first move the talk is of what is to come.
            return True
        tokens = self.clauses.tokens
        core = bisect_left(tokens, claim.core, key=_word_of)
        begin = event.last if event is not None else 0
        lo = min(max(bisect_left(tokens, begin, key=_word_of), core - _WINDOW), core)
        number = self.sentences[claim.core]
        asked = any(t.asks for t in tokens[lo:core] if self.sentences[t.word] == number - 1)
        # What answers a question is thought of with it: "what is his threat? A fork".
        same = [i for i in range(lo, core) if self.sentences[tokens[i].word] >= number - asked]
        if not self.clauses.marks.get("veto", set()).isdisjoint(same):
            return True
        # Who does it, or whom it is said of, is named right before the claim; the others may be about to move.
        named = [n for n in self.clauses.named_men(lo, core) if n.man.square or n.last < core - self.is_said(core)]
        of_king = claim.kind in ("check", "mate", "stalemate")
        if (
            of_king
            and event is not None
            and event.act in ("mention", "point")
            and self.sentence(event.first) == self.sentences[claim.core]
        ):
            return True
        if of_king and any(n.man.square and n.first in same for n in named):
            return True
        if claim.kind == "mate" and mates(self.scene(0 if event is None else event.node).board):
            # The move that mates is not told, or comes next.
            return True
        scene = self.scene(0 if event is None else event.node)
        moves = [move for named_ in named for move in _moves_of(scene.board, named_.man)]
        if scene.before is not None:
            # What might have been played instead of the last move.
            moves += [move for named_ in named if named_.man.square for move in _moves_of(scene.before, named_.man)]
        by_king = scene.move is not None and scene.board.piece_type_at(scene.move.to_square) == chess.KING
        if of_king and (by_king or lo < core):
            moves += [(scene.board, move) for move in scene.board.legal_moves]
        return any(judge(claim, _pushed(Scene(board), move)).truth == "true" for board, move in moves)

    def is_said(self, core: int) -> int:
        """How many words such as "is" stand right before a claim."""
        return int(core > 0 and self.clauses.tokens[core - 1].text in ("is", "are"))

    def is_aside(self, claim: Claim, event: Event) -> bool:
        """Whether the claim may be about something that was only mentioned in its sentence."""
        since = [e for e in self.events if claim.supposed <= e.first <= claim.core] if claim.supposed >= 0 else []
        if any(_is_mention(e) for e in since):
            return True
        if event.act == "talk" and event.first <= claim.core < event.last:
            # The words of a move that was not understood.
            return True
        mention = _is_mention(event) and not self.is_place(claim, event)
        about = event.first < claim.last and event.last > claim.first
        return mention and not about and self.sentences[claim.core] == self.sentence(event.first)

    def is_place(self, claim: Claim, event: Event) -> bool:
        """Whether the square named in an event is the one where the man a claim is about stands: "on f7 the knight"."""
        square = self.words[event.last - 1].strip(".,;:!?").lower()
        if event.last > claim.first or square not in chess.SQUARE_NAMES or not claim.agents or claim.agents[0].square:
            return False
        man = replace(claim.agents[0], square=square)
        return bool(matching(self.scene(event.node).board, man, list(chess.COLORS)))

    def sentence(self, word: int) -> int:
        return self.sentences[min(word, len(self.words) - 1)]


def _is_mention(event: Event) -> bool:
    """Whether an event is of a move that is not made, or was not understood."""
    return event.act in ("mention", "point") or (event.act == "talk" and bool(event.reason))


# Under review the same words are checked again after every answer.
@lru_cache(maxsize=2)
def _clauses(words: tuple[str, ...]) -> Clauses:
    return Clauses(words)


def mates(board: chess.Board) -> bool:
    """Whether the side to move mates at once."""
    return bool(facts.forced_mate(board, 1, _MATE_NODES).line)


def _pushed(scene: Scene, move: chess.Move) -> Scene:
    board = scene.board.copy(stack=False)
    board.push(move)
    return Scene(board, scene.board, move, None if scene.line is None else (*scene.line, move.uci()))


def _moves_of(board: chess.Board, man: Man) -> Iterator[tuple[chess.Board, chess.Move]]:
    """The moves a man or a square may be named for, with the position each is made in: those of the side to move, and
    where it is not in check those of the other, which come next."""
    boards = [board]
    if not board.is_check():
        other = board.copy(stack=False)
        other.push(chess.Move.null())
        boards.append(other)
    for start in boards:
        for move in start.legal_moves:
            kinds = (start.piece_type_at(move.from_square), move.promotion)
            fits = not man.piece or man.piece == "M" or chess.PIECE_SYMBOLS.index(man.piece.lower()) in kinds
            if fits and man.square in ("", chess.square_name(move.to_square)):
                yield start, move


def claim_findings(talk: Talk, decoded: Decoded, least: float) -> Iterator[Finding]:
    """The false claims of a talk, where the moves that led to the position have at least the confidence `least`."""
    words = [word.text for word in talk.words]
    sure = surety(decoded)
    for said in Claims(words, decoded).judged():
        claim = said.claim
        if claim.kind in _COUNTED and chess.popcount(chess.Board(decoded.nodes[said.node].fen).occupied) == 32:
            # Nobody counts before a man is taken: the moves that were told have been lost on the way.
            continue
        if said.judgement.truth == "false" and sure[said.node] >= least:
            quoted = " ".join(words[claim.first : claim.last]).strip(".,;:!?")
            yield Finding(
                kind="claim",
                severity="error",
                message=f'"{quoted}" is not so {where(decoded, said.node)}: {said.judgement.evidence}',
                words=(claim.first, claim.last),
                start_ms=talk.words[claim.first].start_ms,
                fen=decoded.nodes[said.node].fen,
            )


def where(decoded: Decoded, node: int) -> str:
    """ "after 4. Qh5+", "in the position it starts from"."""
    here = decoded.nodes[node]
    if here.parent < 0:
        return "in the position it starts from"
    before = chess.Board(decoded.nodes[here.parent].fen)
    return f"after {before.fullmove_number}{'.' if before.turn else '...'} {here.san}"


def surety(decoded: Decoded) -> list[float]:
    """For each node the least confidence on the way to it, 0..1."""
    own = [1.0] * len(decoded.nodes)
    for event in decoded.events:
        if event.act in ("play", "chapter"):
            own[event.node] = min(own[event.node], event.confidence)
    for node in decoded.nodes:
        if node.parent >= 0:
            own[node.id] = min(own[node.id], own[node.parent])
    return own
