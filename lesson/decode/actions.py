"""What a phrase can do to a hypothesis: play, retell, return, or nothing; each action with its features."""

from __future__ import annotations

import math
from functools import partial
from typing import NamedTuple

from lesson.decode.fit import Features, mirrored
from lesson.decode.fitting import Fitted, Fitting, Heard, Score, Scored
from lesson.decode.named import line_rests
from lesson.decode.places import NO_FEATURES, Places
from lesson.decode.position import Choice, Tree
from lesson.decode.rules import (
    filling,
    gist_features,
    misfit_features,
    name_features,
    none_features,
    return_features,
    there_features,
)
from lesson.decode.thread import (
    Place,
    State,
    is_told,
    level,
    place_features,
    relations,
    turns_of,
)
from lesson.hear.known import NOT_A_MOVE
from lesson.hear.phrases import Phrase
from lesson.settings import SHARED

KEEP_AT_CURSOR = 5
_JUMPS = {"up1": "parent", "line1": "line", "line1root": "line", "tip1": "tip", "tip2+": "tip"}
PINNED = "pinned"  # the relation of a return that is a fact: the next phrase starts there
IMPOSSIBLE = 50.0  # what a hypothesis pays in which a given fact cannot be so, in -ln p
_FILLED = ("square", "castle", "pawn", "piece", "known")  # kinds of phrases before which a move may be missing
_QUIET_PLACES = ("line1", "line1root", "tip1", "root", "up1", "up2", "up3")
_LOOSE_PLACES = ("cursor", "line1", "line1root", "line2", "tip1", "tip2+", "root", "up1", "up2", "up3")


class Action(NamedTuple):
    """`kind`: play (also retell), return, none. `parent` is where the moves start; `moves` are played in order, the
    last `named` of them by this phrase, those before are filled in; `target` is where a return lands. `parts` are the
    lists of features that make up `score`."""

    kind: str
    parent: int
    moves: tuple[Choice, ...]
    named: int
    parts: tuple[Features, ...]
    score: float
    relation: str = ""
    target: int = -1

    @property
    def features(self) -> Features:
        """All features in one list."""
        return [feature for part in self.parts for feature in part]


def kind_of(action: Action, state: State, tree: Tree) -> str:
    """Which of gist.KINDS an action is."""
    if action.kind != "play":
        return action.kind
    if len(action.moves) > action.named:
        return "fill"
    if action.parent == state.cursor:
        return "here"
    if is_told(state, tree, action.parent, action.moves[0].uci):
        return "again"
    return _JUMPS.get(action.relation, "far")


class Actor:
    """Works out the actions of phrases; what was worked out is kept by `fitting` while the phrase is near."""

    def __init__(self, tree: Tree, score: Score) -> None:
        self.tree, self.score = tree, score
        self.fitting = Fitting(tree, score)
        self._clean = self.fitting.clean
        self.places = Places(tree, score, self.fitting)
        self._once = self.places.once

    def fits(self, index: int, phrase: Phrase, node: int) -> list[Fitted]:
        """Moves the phrase may name at a node, best first."""
        return self.fitting.fits(self.fitting.heard(index, phrase), node)

    def clean(self, index: int, phrase: Phrase, node: int) -> list[Fitted]:
        """The best of them with nothing against them."""
        return self._clean(self.fitting.heard(index, phrase), node)

    def forget_before(self, index: int) -> None:
        """Lets go of what was worked out for the phrases before; asked again, it is worked out again."""
        self.fitting.forget_before(index)

    def forget_all(self) -> None:
        """Lets go of everything."""
        self.fitting.forget_all()

    def nothing_score(self, index: int, phrase: Phrase, fits: bool, last: str) -> float:
        """What speaks for the phrase being no move where it fits or not, after what the phrase before did."""
        heard = self.fitting.heard(index, phrase)
        return self._nothing_at(heard, fits, last)[1] + self._guessed(heard, "none")[1]

    def stay_score(self, index: int, phrase: Phrase) -> float:
        """What speaks for going on where the talk stands, with a move nobody has told there."""
        make = partial(place_features, phrase, frozenset[str](), "p", _STAY)
        heard = self.fitting.heard(index, phrase)
        return self._once(heard, ("stay",), make)[1] + self._guessed(heard, "here")[1]

    def actions(self, index: int, phrase: Phrase, state: State) -> list[Action]:
        """All actions worth considering, the best few of each kind."""
        heard = self.fitting.heard(index, phrase)
        out = [self._nothing(heard, state)]
        if phrase.known == NOT_A_MOVE:
            return out
        if phrase.kind == "known":
            return self._fact(heard, state, out[0])
        if phrase.kind == "name":
            out += self._names(heard, state)
        elif phrase.ref == "undone":
            out += self._returns(heard, state)
        else:
            out += self._plays(heard, state)
            out += self._splits(heard, state)
            out += self._fills(heard, state)
            out += self._returns(heard, state)
        return _shared([self._weighed(heard, state, action) for action in out] if phrase.gist else out)

    # -- what the network says that read the whole talk

    def _weighed(self, heard: Heard, state: State, action: Action) -> Action:
        """The action with the network's guess of its kind."""
        kind = kind_of(action, state, self.tree)
        rough = kind if action.kind != "play" else "here" if action.parent == state.cursor else "jump"
        features, value = self._guessed(heard, *sorted({kind, rough}))
        return action._replace(parts=(*action.parts, features), score=action.score + value)

    def _guessed(self, heard: Heard, *kinds: str) -> Scored:
        return self._once(heard, ("gist", kinds), partial(gist_features, heard.phrase, kinds))

    # -- what is known to be so

    def _fact(self, heard: Heard, state: State, nothing: Action) -> list[Action]:
        """A fact holds wherever it can; a hypothesis in which it cannot is all but given up."""
        phrase = heard.phrase
        if phrase.path is not None:
            node: int | None = state.nodes[0]
            for uci in phrase.path:
                node = self.tree.children[node].get(uci) if node is not None else None
            out = []
            if node is not None and state.mask >> node & 1:
                out = [Action("return", node, (), 0, (), 0.0, PINNED, node)]
        else:
            out = self._plays(heard, state) + self._fills(heard, state)
        return out or [nothing._replace(score=nothing.score - IMPOSSIBLE)]

    # -- nothing

    def _nothing(self, heard: Heard, state: State) -> Action:
        parts, value = self._nothing_at(heard, bool(self._clean(heard, state.cursor)), state.did)
        there, idle = self.fitting.there(heard, state.cursor), level(state.habits.idle)
        known = self._once(heard, ("there", there, idle), partial(there_features, heard.phrase, there, idle))
        return Action("none", -1, (), 0, (*parts, known[0]), value + known[1])

    def _nothing_at(self, heard: Heard, fits: bool, last: str) -> tuple[tuple[Features, Features], float]:
        phrase = heard.phrase
        base, value = self._once(heard, ("none", last), lambda: none_features(phrase, last))
        extra, more = self._once(heard, ("none", fits), lambda: misfit_features(phrase, fits))
        return (base, extra), value + more

    # -- play

    def _plays(self, heard: Heard, state: State) -> list[Action]:
        phrase = heard.phrase
        out: list[Action] = []
        cursor = state.cursor
        for fit in self.fitting.fits(heard, cursor)[:KEEP_AT_CURSOR]:
            out += self._play(heard, state, cursor, "cursor", fit)
        if getattr(state.action, "relation", "") == PINNED:
            return out
        loose = phrase.kind not in ("square", "name", "known") or phrase.form in ("rank", "digits")
        # in the middle of a sentence, with a move that fits where the talk stands and no cue, it hardly goes far
        quiet = not phrase.ends and bool(self._clean(heard, cursor)) and not turns_of(phrase, state.carry)
        quiet = quiet and not any(cue.startswith("nav") for cue in phrase.after)
        table: dict[int, str] | None = None
        clean = self.fitting.all_clean(heard, state.nodes)
        for node in state.nodes:
            fits = clean[node]
            if node == cursor:
                continue
            if not fits and phrase.rather is not None and self.places.stands(heard, state, node):
                fits = self.fitting.fits(heard, node)[:1]  # where the place is told, the move may be badly heard
            if not fits:
                continue
            if table is None:
                table = relations(state, self.tree)
            relation = table[node]
            if (loose and relation not in _LOOSE_PLACES) or (quiet and relation not in _QUIET_PLACES):
                continue
            for fit in fits:
                out += self._play(heard, state, node, relation, fit)
        return out

    def _play(self, heard: Heard, state: State, node: int, relation: str, fit: Fitted) -> list[Action]:
        phrase = heard.phrase
        known = is_told(state, self.tree, node, fit.choice.uci)
        place, a = self.places.place(heard, state, node, relation, known)
        where = ("at" if not known else "re") + ("" if relation == "cursor" else "!")
        side, b = self.places.side(heard, state, bool(self.tree.position[node].board.turn), where)
        beside, c = NO_FEATURES if known else self.places.beside(state, node, fit)
        far, d = self.places.distance(heard, state, node, relation, known)
        score = fit.score + a + b + c + d
        out = [Action("play", node, (fit.choice,), 1, (fit.features, place, side, beside, far), score, relation)]
        if phrase.both or phrase.swap or phrase.plural:
            out += self._double(phrase, node, out[0])
        return out

    def _double(self, phrase: Phrase, node: int, single: Action) -> list[Action]:
        """Two moves in one breath: both sides castle, queens come off."""
        first = single.moves[0]
        if not (phrase.both and not first.captured) and not (first.captured and (phrase.swap or phrase.plural)):
            return []
        after = self.tree.child(node, first)
        position = self.tree.position[after]
        if phrase.both and not first.captured:
            seconds = list(mirrored(first, position))
        else:
            seconds = [c for c in position.captures if c.target == first.target]
        seconds = sorted(seconds, key=lambda c: (c.piece, c.uci))[:3]
        out = []
        for rank, second in enumerate(seconds):
            name = "both" if phrase.both else "swap"
            extra: Features = [(f"double:{name}", 1.0), ("double:rank", float(rank))]
            if phrase.plural:
                extra.append(("double:plural", 1.0))
            elif not phrase.both:
                extra.append((f"double:{phrase.kind}:{phrase.person or phrase.side or 'nobody'}", 1.0))
            score = single.score + self.score(extra)
            out.append(Action("play", node, (first, second), 2, (*single.parts, extra), score, single.relation))
        return out

    def _splits(self, heard: Heard, state: State) -> list[Action]:
        """A capture without its square and then a move, where no stop parts them."""
        phrase = heard.phrase
        if phrase.split is None:
            return []
        out: list[Action] = []
        node = state.cursor
        capturing, moving = (self.fitting.heard(heard.index, part) for part in phrase.split)
        for capture in self._clean(capturing, node):
            single = self._play(heard, state, node, "cursor", capture)[0]
            child = self.tree.child(node, capture.choice)
            for move in self._clean(moving, child)[:1]:
                extra: Features = [(f"double:split:{capturing.phrase.kind}", 1.0)]
                score = single.score + move.score + self.score(extra)
                moves, parts = (capture.choice, move.choice), (*single.parts, move.features, extra)
                out.append(Action("play", node, moves, 2, parts, score, "cursor"))
        return out

    # -- play what an opening's name stands for

    def _names(self, heard: Heard, state: State) -> list[Action]:
        phrase = heard.phrase
        out: list[Action] = []
        table = relations(state, self.tree)
        rests = heard.rests
        for node in state.nodes:
            rest = rests.get(node)
            if rest is None:
                path = [self.tree.uci[n] for n in self.tree.path(node)[1:]]
                rest = rests[node] = list(line_rests(phrase, self.tree.position[node], path))
            for moves in rest:
                known = is_told(state, self.tree, node, moves[0].uci)
                relation = table[node]
                place, a = self.places.place(heard, state, node, relation, known)
                habit = level(state.habits.name)
                make = partial(name_features, phrase, len(moves), habit)
                extra, b = self._once(heard, ("name", len(moves), habit), make)
                far, c = self.places.distance(heard, state, node, relation, known)
                side, d = self.places.side(heard, state, bool(self.tree.position[node].board.turn), "name")
                parts = (extra, place, far, side)
                out.append(Action("play", node, moves, len(moves), parts, a + b + c + d, relation))
        out.sort(key=lambda action: -action.score)
        return out[:8]

    # -- fill one unspoken move

    def _fills(self, heard: Heard, state: State) -> list[Action]:
        phrase = heard.phrase
        if phrase.kind not in _FILLED or phrase.form in ("rank", "digits"):
            return []
        out: list[Action] = []
        places = {state.cursor: "cursor"}
        if state.lines and state.lines[-1] != state.cursor:
            places[state.lines[-1]] = "line1"
        for node, relation in places.items():
            denied = self._denied(heard, node)
            for unspoken, fit, likely in self.fitting.filled(heard, node):
                if unspoken[0].uci in denied:
                    continue
                place, a = self.places.place(heard, state, node, relation, False)
                side, b = self.places.side(heard, state, bool(fit.choice.board.turn), "fill")
                known = is_told(state, self.tree, node, unspoken[0].uci)
                fits = bool(self._clean(heard, node))
                habit = level(state.habits.fill)
                make = partial(filling, phrase, known, state.last, fits, habit)
                more, c = self._once(heard, ("fill", known, state.last, fits, habit), make)
                far, d = self.places.distance(heard, state, node, relation, known)
                unsaid: Features = [("fill:likely", likely)]
                score = fit.score + self.score(unsaid) + a + b + c + d
                parts = (fit.features, unsaid, place, side, more, far)
                out.append(Action("play", node, (*unspoken, fit.choice), 1, parts, score, relation))
        return out

    def _denied(self, heard: Heard, node: int) -> set[str]:
        """The moves (UCI) that the phrase known to move nothing names here."""
        denied = heard.phrase.denied
        return (
            set() if denied is None else {fit.choice.uci for fit in self.fits(heard.index, denied, node) if fit.clean}
        )

    # -- return

    def _returns(self, heard: Heard, state: State) -> list[Action]:
        """The phrase names a move that already stands in the tree: go to it, or to the position before it."""
        phrase = heard.phrase
        if not any(
            c.startswith("nav") or c in ("chapter", "stand", "back") for c in phrase.cues | phrase.inside | state.carry
        ):
            return []
        loose = phrase.kind not in ("square", "castle")
        out: list[Action] = []
        table = relations(state, self.tree)
        for node in state.nodes:
            choice = self.tree.choice[node]
            if choice is None:
                continue
            up = self.tree.parent[node]
            fit = next((f for f in self._clean(heard, up) if f.choice.uci == choice.uci), None)
            if fit is None:
                continue
            same = [
                (f"r:{n}", v) for n, v in fit.features if n in ("file", "rank", "exact", "guess") or n[:5] == "piece"
            ]
            value = self.score(same)
            for kind, target in (("to", node), ("before", up)):
                if target == state.cursor and kind == "before":
                    continue
                relation = table.get(target, "far")
                if loose and relation not in _LOOSE_PLACES:
                    continue
                extra, more = self._once(
                    heard, ("ret", kind, relation), partial(return_features, phrase, kind, relation)
                )
                out.append(Action("return", up, (), 1, (extra, same), value + more, relation, target))
        out.sort(key=lambda a: -a.score)
        return out[:6]


def _shared(actions: list[Action]) -> list[Action]:
    """The actions, with a share of what all of them together promise taken from each (`SHARED`)."""
    top = max(action.score for action in actions)
    less = SHARED * (top + math.log(sum(math.exp(action.score - top) for action in actions)))
    return [action._replace(score=action.score - less) for action in actions]


_STAY = Place("cursor", False, True, 0, True, True, "", False, 0)
