"""Claims of a whole talk, each judged on the position it is about."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import chess

from lesson.check.claims import judge
from lesson.check.scene import Judgement, Scene
from lesson.hear.claims import Claim, find_claims
from lesson.hear.tokens import tokenise
from lesson.model import Decoded, Event, Finding, Talk


@dataclass(frozen=True, slots=True)
class Said:
    """A claim, what the board says to it, and the event (its index) and node at whose position it was judged."""

    claim: Claim
    judgement: Judgement
    event: int | None
    node: int


# Their own words name a move.
_OF_CASTLING = frozenset(("uncastled", "cannotcastle"))


class Claims:
    """The claims of a talk on the tree the decoder told."""

    def __init__(self, words: Sequence[str], decoded: Decoded) -> None:
        self.claims, self.sentences = list(_claims(tuple(words))), _sentences(tuple(words))
        self.words, self.nodes, self.events = words, decoded.nodes, decoded.events
        self._scenes: dict[int, Scene] = {}

    def judged(self) -> Iterator[Said]:
        """Every claim in order. What is false at its place but true of the move the sentence goes on to is true."""
        for claim in self.claims:
            here = self.place(claim)
            node = 0 if here is None else self.events[here].node
            found = judge(claim, self.scene(node))
            if found.truth == "false":
                for scene in self.other_scenes(claim, here):
                    other = judge(claim, scene)
                    found = other if other.truth != "false" else found
                    if other.truth == "true":
                        break
                else:
                    if here is not None and self.is_aside(claim, self.events[here]):
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
        """Where else the claim may be meant: after a move only mentioned, or after the one its sentence goes on to."""
        if here is not None:
            event = self.events[here]
            if event.act == "mention" and event.uci:
                yield self.after(event)
        later = [e for e in self.events[0 if here is None else here + 1 :] if e.first >= claim.core]
        if later and (later[0].uci or later[0].act == "chapter"):
            told = here is not None and self.sentence(self.events[here].first) == self.sentences[claim.core]
            apart = self.sentence(later[0].first) - self.sentences[claim.core]
            # "What does a horse do best? A fork. Knight e7": a sentence without a move may announce the next.
            if apart <= (0 if told else 1):
                yield self.after(later[0]) if later[0].act == "mention" else self.scene(later[0].node)

    def after(self, event: Event) -> Scene:
        """The position after a move that was mentioned, not played."""
        scene = self.scene(event.node)
        move = chess.Move.from_uci(event.uci)
        if not scene.board.is_legal(move):
            return scene
        board = scene.board.copy(stack=False)
        board.push(move)
        return Scene(board, scene.board, move, None if scene.line is None else (*scene.line, event.uci))

    def is_aside(self, claim: Claim, event: Event) -> bool:
        """Whether the claim may be about something that was only mentioned in its sentence."""
        mention = event.act in ("mention", "point") or (event.act == "talk" and bool(event.reason))
        about = event.first < claim.last and event.last > claim.first
        return mention and not about and self.sentences[claim.core] == self.sentence(event.first)

    def sentence(self, word: int) -> int:
        return self.sentences[min(word, len(self.words) - 1)]


# Under review the same words are checked again after every answer.
@lru_cache(maxsize=2)
def _claims(words: tuple[str, ...]) -> tuple[Claim, ...]:
    return tuple(find_claims(words))


@lru_cache(maxsize=2)
def _sentences(words: tuple[str, ...]) -> tuple[int, ...]:
    """The number of each word's sentence."""
    ends = {token.word for token in tokenise(words) if token.stop == 2}
    out: list[int] = []
    number = 0
    for index in range(len(words)):
        out.append(number)
        number += index in ends
    return tuple(out)


def claim_findings(talk: Talk, decoded: Decoded, least: float) -> Iterator[Finding]:
    """The false claims of a talk, where the moves that led to the position have at least the confidence `least`."""
    words = [word.text for word in talk.words]
    sure = surety(decoded)
    for said in Claims(words, decoded).judged():
        if said.judgement.truth == "false" and sure[said.node] >= least:
            claim = said.claim
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
