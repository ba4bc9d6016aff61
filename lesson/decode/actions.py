"""What a phrase can do to a hypothesis: play, retell, return, or nothing; each action with its features."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from lesson.decode.fit import Features, candidates, fit_features, near_squares, plausibility
from lesson.decode.named import line_rests
from lesson.decode.position import Choice, Tree
from lesson.decode.rules import (
    beside_features,
    fill_features,
    filling,
    is_clean,
    misfit_features,
    name_features,
    none_features,
    return_features,
)
from lesson.decode.thread import Place, State, distance_features, place_features, relations, side_features, turns_of
from lesson.hear.known import NOT_A_MOVE
from lesson.hear.phrases import Phrase

Score = Callable[[Features], float]

KEEP_AT_CURSOR, KEEP_ELSEWHERE, KEEP_FILLS = 5, 2, 3
MOST_AGE = 60  # nodes; what was told longer ago is all the same
PINNED = "pinned"  # the relation of a return that is a fact: the next phrase starts there
IMPOSSIBLE = 50.0  # what a hypothesis pays in which a given fact cannot be so, in -ln p
_QUIET_PLACES = ("line1", "line1root", "tip1", "root", "up1", "up2", "up3")
_LOOSE_PLACES = ("cursor", "line1", "line1root", "line2", "tip1", "tip2+", "root", "up1", "up2", "up3")


@dataclass(frozen=True, slots=True)
class Action:
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


class Fitted:
    """A move the phrase may name at a node, with its features and their score; `clean`: nothing speaks against it."""

    __slots__ = ("choice", "clean", "features", "score")

    def __init__(self, choice: Choice, features: Features, score: float) -> None:
        self.choice, self.features, self.score = choice, features, score
        self.clean = is_clean(features)


Scored = tuple[Features, float]
Filled = tuple[Choice, Fitted, Features, float]


@dataclass
class Actor:
    """Works out the actions of phrases; keeps what it has worked out per phrase and node."""

    tree: Tree
    score: Score
    _fits: dict[tuple[int, int, bool], list[Fitted]] = field(default_factory=dict)
    _clean: dict[tuple[int, int], list[Fitted]] = field(default_factory=dict)
    _rests: dict[tuple[int, int], list[tuple[Choice, ...]]] = field(default_factory=dict)
    _near: dict[int, int] = field(default_factory=dict)
    _scored: dict[tuple[object, ...], Scored] = field(default_factory=dict)
    _turns: dict[tuple[int, frozenset[str]], tuple[str, ...]] = field(default_factory=dict)
    _ways: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    _fillings: dict[int, list[tuple[float, Choice, Features]]] = field(default_factory=dict)
    _filled: dict[tuple[int, int], list[Filled]] = field(default_factory=dict)

    def forget(self, everything: bool = False) -> None:
        """Lets go of what was worked out for earlier phrases, or of `everything`; asked again, it is worked out."""
        for table in (self._fits, self._clean, self._scored, self._rests, self._near, self._filled, self._turns):
            table.clear()
        if everything:
            self._ways.clear()
            self._fillings.clear()

    def fits(self, index: int, phrase: Phrase, node: int, null: bool = False) -> list[Fitted]:
        """Moves the phrase may name at a node (or, with `null`, for the other side there), best first."""
        key = (index, node, null)
        found = self._fits.get(key)
        if found is None:
            found = self._fits[key] = self._work_out(phrase, node, null)
        return found

    def clean(self, index: int, phrase: Phrase, node: int) -> list[Fitted]:
        """The best fits at a node with nothing against them."""
        key = (index, node)
        found = self._clean.get(key)
        if found is None and phrase.kind == "square":
            near = self._near.get(index)
            if near is None:
                near = self._near[index] = near_squares(phrase)
            if not self.tree.position[node].reach[" PNBRQK".index(phrase.piece or " ")] & near:
                found = self._clean[key] = []
        if found is None:
            found = self._clean[key] = [f for f in self.fits(index, phrase, node) if f.clean][:KEEP_ELSEWHERE]
        return found

    def _once(self, key: tuple[object, ...], make: Callable[[], Features]) -> Scored:
        found = self._scored.get(key)
        if found is None:
            features = make()
            found = self._scored[key] = (features, self.score(features))
        return found

    def _work_out(self, phrase: Phrase, node: int, null: bool) -> list[Fitted]:
        position = self.tree.position[node]
        if null:
            other = position.null
            if other is None:
                return []
            position = other
        before = None if null else self.tree.choice[node]
        up = self.tree.parent[node]
        own = self.tree.choice[node] if null else self.tree.choice[up] if up >= 0 else None
        named = candidates(phrase, position, before.target if before is not None and before.captured else -1)
        out = []
        for choice in named:
            features = fit_features(phrase, choice, (before, own), len(named))
            features += plausibility(position, choice)
            out.append(Fitted(choice, features, self.score(features)))
        out.sort(key=lambda f: (-f.score, f.choice.uci))
        return out[:12]

    def actions(self, index: int, phrase: Phrase, state: State) -> list[Action]:
        """All actions worth considering, the best few of each kind."""
        out = [self._nothing(index, phrase, state)]
        if phrase.known == NOT_A_MOVE:
            return out
        if phrase.kind == "known":
            return self._fact(index, phrase, state, out[0])
        if phrase.kind == "name":
            return out + self._names(index, phrase, state)
        out += self._plays(index, phrase, state)
        out += self._fills(index, phrase, state)
        out += self._returns(index, phrase, state)
        return out

    # -- what is known to be so

    def _fact(self, index: int, phrase: Phrase, state: State, nothing: Action) -> list[Action]:
        """A fact holds wherever it can; a hypothesis in which it cannot is all but given up."""
        if phrase.path is not None:
            node: int | None = state.nodes[0]
            for uci in phrase.path:
                node = self.tree.children[node].get(uci) if node is not None else None
            out = []
            if node is not None and state.mask >> node & 1:
                out = [Action("return", node, (), 0, (), 0.0, PINNED, node)]
        else:
            out = self._plays(index, phrase, state) + self._fills(index, phrase, state)
        return out or [replace(nothing, score=nothing.score - IMPOSSIBLE)]

    # -- nothing

    def _nothing(self, index: int, phrase: Phrase, state: State) -> Action:
        base, value = self._once((index, "none", state.last), lambda: none_features(phrase, state.last))
        clean = bool(self.clean(index, phrase, state.cursor))
        extra, more = self._once((index, "none", clean), lambda: misfit_features(phrase, clean))
        return Action("none", -1, (), 0, (base, extra), value + more)

    # -- play

    def _plays(self, index: int, phrase: Phrase, state: State) -> list[Action]:
        out: list[Action] = []
        cursor = state.cursor
        for fit in self.fits(index, phrase, cursor)[:KEEP_AT_CURSOR]:
            out += self._play(index, phrase, state, cursor, "cursor", fit)
        if getattr(state.action, "relation", "") == PINNED:
            return out
        loose = phrase.kind not in ("square", "name", "known") or phrase.form in ("rank", "digits")
        # in the middle of a sentence, with a move that fits where the talk stands and no cue, it hardly goes far
        quiet = not phrase.ends and bool(self.clean(index, phrase, cursor)) and not turns_of(phrase, state.carry)
        quiet = quiet and not any(cue.startswith("nav") for cue in phrase.after)
        table: dict[int, str] | None = None
        for node in state.nodes:
            if node == cursor:
                continue
            fits = self.clean(index, phrase, node)
            if not fits:
                continue
            if table is None:
                table = relations(state, self.tree)
            relation = table[node]
            if (loose and relation not in _LOOSE_PLACES) or (quiet and relation not in _QUIET_PLACES):
                continue
            for fit in fits:
                out += self._play(index, phrase, state, node, relation, fit)
        return out

    def _place(self, index: int, phrase: Phrase, state: State, node: int, relation: str, known: bool) -> Scored:
        mask, tree, cursor = state.mask, self.tree, state.cursor
        told = [c for c in tree.children[node].values() if mask >> c & 1]
        hit = 0
        board = tree.position[node].board
        number = phrase.numbers[-1] if phrase.numbers else state.number
        if number:
            hit = 1 if number == board.fullmove_number or (number == board.fullmove_number - 1 and board.turn) else -1
        here = node == cursor or bool(self.clean(index, phrase, cursor))
        main = "" if not state.main >> node & 1 else "" if any(state.main >> c & 1 for c in told) else "tip"
        main = main or ("line" if state.main >> node & 1 else "")
        turn = board.turn == tree.position[cursor].board.turn
        strays = not state.main >> cursor & 1
        rather = self._rather(index, phrase, node, told) if phrase.rather is not None else 0
        place = Place(relation, known, not told, hit, here, turn, main, strays, rather)
        key = (index, place, state.carry, state.last)
        return self._once(key, lambda: place_features(phrase, state.carry, state.last, place))

    def _distance(self, index: int, phrase: Phrase, state: State, node: int, relation: str, known: bool) -> Scored:
        if node == state.cursor:
            return _NO_FEATURES
        turns = self._turns.get((index, state.carry))
        if turns is None:
            turns = self._turns[index, state.carry] = turns_of(phrase, state.carry)
        age = MOST_AGE  # also for what was told so long ago that it is no longer listed
        if node in state.nodes:
            age = min(MOST_AGE, len(state.nodes) - 1 - state.nodes.index(node))
        undone, ahead = self._way(state.cursor, node)
        deep = relation == "up4+"
        key = ("distance", known, deep, turns if deep else (), age, undone, ahead)
        return self._once(key, lambda: distance_features(known, deep, turns, age, undone, ahead))

    def _way(self, cursor: int, node: int) -> tuple[int, int]:
        """Plies back from the cursor to the last common node, and on from there."""
        if cursor == node:
            return 0, 0
        found = self._ways.get((cursor, node))
        if found is None:
            a, b = self.tree.path(cursor), self.tree.path(node)
            same = 0
            for x, y in zip(a, b, strict=False):
                if x != y:
                    break
                same += 1
            found = self._ways[cursor, node] = (len(a) - same, len(b) - same)
        return found

    def _rather(self, index: int, phrase: Phrase, node: int, told: Sequence[int]) -> int:
        """ "g3 instead of h3" is said where h3 stands."""
        assert phrase.rather is not None
        said = {f.choice.uci for f in self.clean(-1 - index, phrase.rather, node)}
        return 1 if any(self.tree.uci[c] in said for c in told) else -1

    def _beside(self, state: State, node: int, fit: Fitted) -> Scored:
        """Features of standing beside a move already told there: the same man, the same square."""
        source = target = False
        for uci, child in self.tree.children[node].items():
            if state.mask >> child & 1 and uci != fit.choice.uci:
                source = source or uci[:2] == fit.choice.uci[:2]
                target = target or uci[2:4] == fit.choice.uci[2:4]
        return self._once(("beside", source, target), lambda: beside_features(source, target))

    def _side(self, index: int, phrase: Phrase, state: State, white: bool) -> Scored:
        if not phrase.side and not phrase.person:
            return _NO_FEATURES
        key = (index, "side", white, phrase.side or state.persons)
        return self._once(key, lambda: side_features(state, phrase, white))

    def _play(self, index: int, phrase: Phrase, state: State, node: int, relation: str, fit: Fitted) -> list[Action]:
        child = self.tree.children[node].get(fit.choice.uci)
        known = child is not None and bool(state.mask >> child & 1)
        place, a = self._place(index, phrase, state, node, relation, known)
        side, b = self._side(index, phrase, state, self.tree.position[node].board.turn)
        beside, c = _NO_FEATURES if known else self._beside(state, node, fit)
        far, d = self._distance(index, phrase, state, node, relation, known)
        score = fit.score + a + b + c + d
        out = [Action("play", node, (fit.choice,), 1, (fit.features, place, side, beside, far), score, relation)]
        if phrase.both or phrase.swap or phrase.plural:
            out += self._double(phrase, node, out[0])
        return out

    def _double(self, phrase: Phrase, node: int, single: Action) -> list[Action]:
        """Two moves in one breath: both sides castle, queens come off."""
        first = single.moves[0]
        if not (phrase.both and first.castling) and not (first.captured and (phrase.swap or phrase.plural)):
            return []
        after = self.tree.child(node, first)
        position = self.tree.position[after]
        if phrase.both and first.castling:
            seconds = [c for c in position.choices if c.castling == first.castling]
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

    # -- play what an opening's name stands for

    def _names(self, index: int, phrase: Phrase, state: State) -> list[Action]:
        out: list[Action] = []
        table = relations(state, self.tree)
        for node in state.nodes:
            key = (index, node)
            rest = self._rests.get(key)
            if rest is None:
                path = [self.tree.uci[n] for n in self.tree.path(node)[1:]]
                rest = self._rests[key] = list(line_rests(phrase, self.tree.position[node], path))
            for moves in rest:
                child = self.tree.children[node].get(moves[0].uci)
                known = child is not None and bool(state.mask >> child & 1)
                relation = table[node]
                place, a = self._place(index, phrase, state, node, relation, known)
                extra, b = self._once((index, "name", len(moves)), partial(name_features, phrase, len(moves)))
                far, c = self._distance(index, phrase, state, node, relation, known)
                out.append(Action("play", node, moves, len(moves), (extra, place, far), a + b + c, relation))
        out.sort(key=lambda action: (-action.score, action.parent))
        return out[:8]

    # -- fill one unspoken move

    def _fills(self, index: int, phrase: Phrase, state: State) -> list[Action]:
        if phrase.kind not in ("square", "castle", "known") or phrase.form in ("rank", "digits"):
            return []
        out: list[Action] = []
        places = {state.cursor: "cursor"}
        if state.lines and state.lines[-1] != state.cursor:
            places[state.lines[-1]] = "line1"
        for node, relation in places.items():
            if self.clean(index, phrase, node):
                continue  # nothing is missing where the phrase can be played as it stands
            for filled in self._fill(index, phrase, node):
                choice, fit, features, value = filled
                place, a = self._place(index, phrase, state, node, relation, False)
                side, b = self._side(index, phrase, state, not self.tree.position[node].board.turn)
                child = self.tree.children[node].get(choice.uci)
                known = child is not None and bool(state.mask >> child & 1)
                more, c = self._once((index, "fill", known), partial(filling, phrase, known))
                far, d = self._distance(index, phrase, state, node, relation, known)
                parts = (fit.features, features, place, side, more, far)
                total = fit.score + value + a + b + c + d
                out.append(Action("play", node, (choice, fit.choice), 1, parts, total, relation))
        return out

    def _fill(self, index: int, phrase: Phrase, node: int) -> list[Filled]:
        key = (index, node)
        found = self._filled.get(key)
        if found is None:
            answers = self._check_answers if self.tree.position[node].null is None else self._fill_before
            found = self._filled[key] = answers(index, phrase, node)
        return found

    def _fill_before(self, index: int, phrase: Phrase, node: int) -> list[Filled]:
        """A likely move nobody said, and then the phrase, played as if that move changed nothing."""
        found: list[Filled] = []
        for fit in [f for f in self.fits(index, phrase, node, null=True) if f.clean][:2]:
            count = 0
            for value, choice, features in self._fillings_at(node):
                board = self.tree.position[node].board
                board.push(choice.move)
                possible = board.is_legal(fit.choice.move)
                board.pop()
                if possible:
                    found.append((choice, fit, features, value))
                    count += 1
                    if count >= KEEP_FILLS:
                        break
        return found

    def _check_answers(self, index: int, phrase: Phrase, node: int) -> list[Filled]:
        """In check the few legal answers are tried one by one."""
        found: list[Filled] = []
        for value, choice, features in self._fillings_at(node):
            fits = self.clean(index, phrase, self.tree.child(node, choice))
            found += [(choice, fit, features, value) for fit in fits[:1]]
        found.sort(key=lambda f: (-f[3] - f[1].score, f[0].uci))
        return found[:KEEP_FILLS]

    def _fillings_at(self, node: int) -> list[tuple[float, Choice, Features]]:
        """The likeliest moves nobody said here, best first."""
        found = self._fillings.get(node)
        if found is None:
            last = self.tree.choice[node]
            last_target = last.target if last is not None and last.captured else -1
            found = []
            for choice in self.tree.position[node].choices:
                features = fill_features(self.tree, node, choice, last_target)
                found.append((self.score(features), choice, features))
            found.sort(key=lambda o: (-o[0], o[1].uci))
            del found[12:]
            self._fillings[node] = found
        return found

    # -- return

    def _returns(self, index: int, phrase: Phrase, state: State) -> list[Action]:
        """The phrase names a move that already stands in the tree: go to it, or to the position before it."""
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
            fit = next((f for f in self.clean(index, phrase, up) if f.choice.uci == choice.uci), None)
            if fit is None:
                continue
            heard = [
                (f"r:{n}", v) for n, v in fit.features if n in ("file", "rank", "exact", "guess") or n[:5] == "piece"
            ]
            value = self.score(heard)
            for kind, target in (("to", node), ("before", up)):
                if target == state.cursor and kind == "before":
                    continue
                relation = table.get(target, "far")
                if loose and relation not in _LOOSE_PLACES:
                    continue
                extra, more = self._once(
                    (index, "ret", kind, relation), partial(return_features, phrase, kind, relation)
                )
                out.append(Action("return", up, (), 1, (extra, heard), value + more, relation, target))
        out.sort(key=lambda a: (-a.score, a.target))
        return out[:6]


_NO_FEATURES: Scored = ([], 0.0)
