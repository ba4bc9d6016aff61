"""The thread of the talk: where in the told tree a phrase can go on, and what speaks for each place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from lesson.decode.fit import Features
from lesson.decode.position import Tree
from lesson.hear.phrases import Phrase
from lesson.settings import SIDE_GIVEN

MAX_TIPS = 6
_FAR = {k: tuple(f"{name}!:{what}" for what in ("age", "undone", "ahead")) for k, name in ((False, "at"), (True, "re"))}
_TURN = ("if", "but", "so", "chapter", "slip", "past", "exd", "would", "other")


class Habits(NamedTuple):
    """How this talk went so far, as shares that forget: of the moves played those after one left unsaid (`fill`) and
    those told elsewhere than at the cursor (`jump`); of the opening names those that were moves (`name`); of the
    squares named those that were no move (`idle`)."""

    fill: float
    jump: float
    name: float
    idle: float


# What is expected of a talk before it begins, and the weight of the latest phrase. Set by hand; the weights of the
# features were learned with them, so a change here asks for a new training.
HABITS = Habits(0.06, 0.2, 0.45, 0.2)
_FORGET = 0.12


@dataclass(frozen=True, slots=True)
class State:
    """One hypothesis: the tree told so far (`mask`, bit i = node i), the cursor, and what the thread remembers.

    `lines` are the nodes on the cursor's path at which the told lines split off, oldest first; `tips` the ends of lines
    the talk has left, latest last; `nodes` the chapter's nodes as told; `persons` counts, for i/we/he/she/you, the
    moves of White and of Black told with that word; `carry` the cues of going back since the last move, `number` the
    last move number said since. `main` are the nodes of the chapter's first-told line as bits, `last` what the phrase
    before did: "p" played, "f" played after a move left unsaid, "n" nothing, "r" returned, "" at a chapter's start;
    `recent` how the last phrases were read.
    """

    mask: int
    cursor: int
    nodes: tuple[int, ...]
    lines: tuple[int, ...] = ()
    tips: tuple[int, ...] = ()
    persons: tuple[tuple[str, int, int], ...] = ()
    score: float = 0.0
    back: State | None = None
    action: object = None
    carry: frozenset[str] = frozenset()
    number: int = 0
    main: int = 0
    last: str = ""
    recent: tuple[object, ...] = ()
    habits: Habits = HABITS

    @property
    def did(self) -> str:
        """`last`, whether or not a move was left unsaid."""
        return "p" if self.last == "f" else self.last


def relations(state: State, tree: Tree) -> dict[int, str]:
    """Node -> its standing to the cursor, for every node of the chapter; the name is part of a feature's name."""
    path = tree.path(state.cursor)
    out: dict[int, str] = {}
    for node in state.nodes:
        out[node] = "far"
    for steps, node in enumerate(reversed(path)):
        out[node] = f"up{steps}" if steps <= 3 else "up4+"
    for rank, tip in enumerate(reversed(state.tips)):
        if tip not in path:
            out[tip] = "tip1" if rank == 0 else "tip2+"
    root = path[0]
    out[root] = "root"
    for rank, node in enumerate(reversed(state.lines)):
        if rank < 2 and out.get(node) != "root":
            out[node] = f"line{rank + 1}"
        elif rank == 0:
            out[node] = "line1root"
    out[state.cursor] = "cursor"
    return out


def is_told(state: State, tree: Tree, node: int, uci: str) -> bool:
    """Whether a move has been told at a node."""
    child = tree.children[node].get(uci)
    return child is not None and bool(state.mask >> child & 1)


class Place(NamedTuple):
    """What is asked about a node where a phrase may go on: its `relation` to the cursor; `known`: the move already
    stands there (a retelling); `leaf`: nothing has been told from there; `number`: 1 where the last move number said
    is the node's, -1 where it is not, 0 where none was said; `here`: the phrase would fit at the cursor as well;
    `turn`: the same side is to move as at the cursor; `main`: the node is on the first-told line ("tip": at its end),
    `strays`: the cursor is not; `rather`: 1 where the move named by "instead of" stands there, -1 where it does not.
    """

    relation: str
    known: bool
    leaf: bool
    number: int
    here: bool
    turn: bool
    main: str
    strays: bool
    rather: int


def place_features(phrase: Phrase, carry: frozenset[str], last: str, place: Place) -> Features:
    """What speaks for going on at a node; `carry` and `last` are the state's."""
    relation, known, leaf, number, here = place.relation, place.known, place.leaf, place.number, place.here
    out: Features = []
    kind = "re" if known else "at"
    turns = turns_of(phrase, carry)
    if relation == "cursor":
        name = "re=cursor" if known else "at=cursor" if leaf else "alt=cursor"
        out.append((name, 1.0))
        if phrase.kind == "take":
            out.append((name + ":take", 1.0))
        if name == "at=cursor":
            out += [(f"at=cursor&{cue}", 1.0) for cue in turns]
            if any(c.startswith("nav") for c in turns):
                out.append(("at=cursor&nav", 1.0))
        if phrase.opens:
            out.append((f"{name}&opens", 1.0))
        if name == "alt=cursor":
            out += [(f"alt=cursor&{cue}", 1.0) for cue in turns]
    else:
        out += [(f"{kind}={relation}", 1.0), (f"{kind}!", 1.0), ("jump:gap", math.log1p(phrase.gap))]
        for cue in turns:
            out += [(f"jump&{cue}", 1.0), (f"{kind}={relation}&{cue}", 1.0)]
        if not any(c.startswith("nav") for c in turns):
            out += [("jump&silent", 1.0), (f"{kind}={relation}&silent", 1.0)]
        if phrase.opens:
            out += [("jump&opens", 1.0), (f"{kind}={relation}&opens", 1.0)]
        out.append((f"jump:{'fits' if here else 'misfit'}", 1.0))
        out.append((f"{kind}={relation}:{'fits' if here else 'misfit'}", 1.0))
        if not known and leaf:
            out += [("jump:leaf", 1.0), (f"jump:leaf={relation}", 1.0)]
        out += _jump_features(phrase, turns, last, place)
    if place.rather:
        out.append(("rather+" if place.rather > 0 else "rather-", 1.0))
    if number:
        out.append((f"number{'+' if number > 0 else '-'}{'' if relation == 'cursor' else '!'}", 1.0))
    return out


def _jump_features(phrase: Phrase, turns: Sequence[str], last: str, place: Place) -> Features:
    """What speaks for leaving the cursor at all, and for a kind of place."""
    kind = "re" if place.known else "at"
    out: Features = [(f"jump:last={last}", 1.0), (f"{kind}!:ends", float(min(phrase.ends, 3)))]
    out += [(f"jump&after:{cue}", 1.0) for cue in sorted(phrase.after)]
    out += [(f"{kind}|{item}", 1.0) for item in phrase.context if item[0] != "I"]
    out.append(("jump:turn+" if place.turn else "jump:turn-", 1.0))
    if phrase.asks:
        out.append(("jump:asks", 1.0))
    if phrase.judged:
        out += [("jump:judged", 1.0), (f"{kind}={place.relation}:judged", 1.0)]
    if place.strays and place.main:
        out += [(f"{kind}!:main{place.main}", 1.0)]
        out += [(f"{kind}!:main{place.main}&{cue}", 1.0) for cue in turns]
    return out


def turns_of(phrase: Phrase, carry: frozenset[str]) -> tuple[str, ...]:
    """The cues that the talk turns elsewhere, before the phrase or carried on to it."""
    return tuple(sorted(carry.union(c for c in phrase.cues if c in _TURN or c.startswith("nav"))))


def distance_features(known: bool, deep: bool, turns: Sequence[str], age: int, undone: int, ahead: int) -> Features:
    """How far off a node is: `age` nodes told since, `undone` and `ahead` plies to take back from the cursor and then
    to make; `deep` for one farther up the cursor's own line."""
    kind = "re" if known else "at"
    far, back, on = _FAR[known]
    out: Features = [(far, math.log1p(age)), (back, math.log1p(undone)), (on, math.log1p(ahead))]
    if deep:
        out.append((f"{kind}!:deep", math.log1p(undone)))
        out += [(f"{kind}!:deep&{cue}", math.log1p(undone)) for cue in turns]
    return out


def side_features(state: State, phrase: Phrase, white: bool, where: str) -> Features:
    """Whether the one who moves is the one named, and whether it is the one the talk is for; `where` is the kind of
    place."""
    out: Features = []
    if side := ours(state.persons):
        out.append((f"ours:{where}", float(side if white else -side)))
    if phrase.side:
        meant = (phrase.side == "w") == white
        out.append(("side+", 1.0) if meant else ("side-", SIDE_GIVEN if phrase.given else 1.0))
    elif phrase.person:
        for person, w, b in state.persons:
            if person == phrase.person:
                mine, other = (w, b) if white else (b, w)
                ratio = math.log((mine + 0.7) / (other + 0.7))
                out.append((f"person:{person}", max(-2.0, min(2.0, ratio))))
    return out


def habits_after(habits: Habits, phrase: Phrase, played: bool, filled: bool, jumped: bool) -> Habits:
    """The habits after one more phrase."""
    fill, jump, name, idle = habits
    if played:
        fill += _FORGET * (filled - fill)
        jump += _FORGET * (jumped - jump)
    if phrase.kind == "name":
        name += 2 * _FORGET * (played - name)
    elif phrase.kind == "square":
        idle += _FORGET * ((not played) - idle)
    return Habits(fill, jump, name, idle)


def level(share: float) -> float:
    """A share as the value of a feature, in steps coarse enough to be met again."""
    return round(8 * math.sqrt(share)) / 8


def ours(persons: tuple[tuple[str, int, int], ...]) -> int:
    """Which side the talk is for, from -2 (Black) to 2 (White)."""
    mine = sum(w - b for person, w, b in persons if person in ("i", "we", "you"))
    mine -= sum(w - b for person, w, b in persons if person in ("he", "she"))
    return max(-2, min(2, round(mine / 2)))


def carried(state: State, phrase: Phrase) -> tuple[frozenset[str], int]:
    """What a state carries on after a phrase that was no move."""
    cues = {c for c in phrase.cues | phrase.inside if c.startswith("nav") or c == "chapter"}
    return state.carry | cues, phrase.numbers[-1] if phrase.numbers else state.number


def remember_person(state: State, phrase: Phrase, white: bool) -> tuple[tuple[str, int, int], ...]:
    """The state's counts of persons after a move told with this phrase."""
    person = phrase.person
    if not person:
        return state.persons
    table = {p: (w, b) for p, w, b in state.persons}
    w, b = table.get(person, (0, 0))
    table[person] = (min(9, w + white), min(9, b + (not white)))
    return tuple(sorted((p, *wb) for p, wb in table.items()))


def moved(state: State, tree: Tree, parent: int, new: int, known: bool) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """(lines, tips) after the cursor goes from where it is to `new`, a child of `parent`."""
    path = set(tree.path(parent))
    lines = tuple(n for n in state.lines if n in path)
    if not known and tree.brood[parent] & state.mask and parent not in lines:
        lines = (*lines, parent)
    return lines, left_tips(state, tree, parent, new)


def left_tips(state: State, tree: Tree, parent: int, new: int) -> tuple[int, ...]:
    """The ends of lines left behind when the talk goes on from `parent` to `new`."""
    tips = state.tips
    if parent != state.cursor and state.cursor not in tree.path(new):
        tips = (*(t for t in tips if t != state.cursor), state.cursor)[-MAX_TIPS:]
    if new in tips or parent in tips:
        tips = tuple(t for t in tips if t not in (new, parent))
    return tips
