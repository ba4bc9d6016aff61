"""The phrase: a stretch of words that may name a move, kept as soft slots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypedDict, cast

from lesson.hear.claims import Claim
from lesson.hear.sounds import Costs
from lesson.hear.squares import Square


@dataclass(frozen=True, slots=True)
class Phrase:
    """Soft slots of one possible move.

    `first`/`last` are word indices (half open). `kind` names the head: square, take, castle, pawn, piece, check,
    promote, name, block (a man put in the way of a check), mirror (what the other side has just done). `files`/`ranks`
    are costs of the target square (None: no square heard). `piece` is the letter of the mover named ("" none), `guess`
    the costs for ("", P, N, B, R, Q, K) of the word before the square when no piece was named. `ofiles` are costs of
    the file of origin, `origin` a square of origin, `wing` is the half of the board the man began on ("k" or "q": the
    king's knight), `mute` says that the letter of the square may be all that is left of a knight whose file was
    swallowed ("I6"). `victim` is what is taken; `pair` says that the next phrase is a bare capture too; `noise` is how
    badly the whole talk was heard (0, 1, 2). `cues` are the grammar's cue kinds since the phrase before, `inside` those
    within; `context` the words around it; `numbers` move numbers said since the phrase before; `text_cost` what it
    costs to take these words for a move. `ref` is the cue of going back right before the phrase ("instead of" c3,
    "after" king g7; "undone" behind "instead of bringing": what is not played); `after` are the cue kinds in the rest
    of the sentence; `rather` is the phrase "instead of" which this one is told, `trails` says that this phrase is such
    a one and follows ("g3 instead of h3"), `leads` that it goes before ("instead of h3, g3"); `asks` that the sentence
    is a question, `ends` how many sentences ended since the phrase before, `judged` that a verdict was given there.
    Where a fact was given (kind "known"), `known` is the move it names (SAN or UCI; "-" for words that move nothing)
    and `path` the moves to the position it goes back to. `split` are the two moves the words may mean as well where no
    stops are written ("king takes d4": takes, and then d4). `gist` is the network's guess of what the phrase does, the
    logarithms of the odds of gist.KINDS; empty where no network was asked. `given` says that the teacher gave the side,
    not a word of the talk. `claims` are what is said right behind it of the position it makes. `denied` is the phrase
    right before it where that is known to move nothing: no move left unsaid is the one it names.
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
    wing: str = ""
    mute: bool = False
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
    given: bool = False
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
    leads: bool = False
    asks: bool = False
    ends: int = 0
    judged: bool = False
    known: str = ""
    path: tuple[str, ...] | None = None
    split: tuple[Phrase, Phrase] | None = None
    gist: tuple[float, ...] = ()
    claims: tuple[Claim, ...] = ()
    denied: Phrase | None = None


class Slots(TypedDict, total=False):
    """The slots of a phrase while they are being filled; the names are Phrase's."""

    piece: str
    ofiles: Costs | None
    origin: Square | None
    wing: str
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


def merged(slots: Slots, right: Slots) -> Slots:
    """The slots from the left of a head, and over them what was heard to its right."""
    return cast(Slots, {**slots, **{k: v for k, v in right.items() if v}})
