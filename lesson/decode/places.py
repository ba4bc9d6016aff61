"""What speaks for a place in the told tree where a phrase may go on: where it stands, how far off it is, who moves."""

from __future__ import annotations

from collections.abc import Callable

from lesson.decode.fit import Features
from lesson.decode.fitting import Fitted, Fitting, Heard, Score, Scored
from lesson.decode.position import Tree
from lesson.decode.rules import beside_features
from lesson.decode.thread import Place, State, distance_features, level, place_features, side_features, turns_of

MOST_AGE = 60  # nodes; what was told longer ago is all the same
NO_FEATURES: Scored = ([], 0.0)


class Places:
    """Scores places; what was worked out for a phrase is kept with it (`Heard.scored`)."""

    def __init__(self, tree: Tree, score: Score, fitting: Fitting) -> None:
        self.tree, self.score, self.fitting = tree, score, fitting
        self._far: dict[tuple[object, ...], Scored] = {}
        self._neighbours: dict[tuple[bool, bool], Scored] = {}
        for source in (False, True):
            for target in (False, True):
                features = beside_features(source, target)
                self._neighbours[source, target] = (features, score(features))

    def once(self, heard: Heard, key: tuple[object, ...], make: Callable[[], Features]) -> Scored:
        """The features that `make` makes, and their score, worked out once per phrase and key."""
        found = heard.scored.get(key)
        if found is None:
            features = make()
            found = heard.scored[key] = (features, self.score(features))
        return found

    def place(self, heard: Heard, state: State, node: int, relation: str, known: bool) -> Scored:
        """Where the node stands to the cursor, what the talk says of such places; `known`: the move is told."""
        phrase = heard.phrase
        tree, cursor, first_told = self.tree, state.cursor, state.main
        brood = tree.brood[node]
        hit = 0
        board = tree.position[node].board
        number = phrase.numbers[-1] if phrase.numbers else state.number
        if number:
            hit = 1 if number == board.fullmove_number or (number == board.fullmove_number - 1 and board.turn) else -1
        here = node == cursor or bool(self.fitting.clean(heard, cursor))
        main = "" if not first_told >> node & 1 else "line" if brood & first_told else "tip"
        turn = board.turn == tree.position[cursor].board.turn
        strays = not first_told >> cursor & 1
        rather = 0 if phrase.rather is None else 1 if self.stands(heard, state, node) else -1
        place = (relation, known, not brood & state.mask, hit, here, turn, main, strays, rather)
        return self.once(
            heard,
            (place, state.carry, state.did),
            lambda: place_features(phrase, state.carry, state.did, Place(*place)),
        )

    def distance(self, heard: Heard, state: State, node: int, relation: str, known: bool) -> Scored:
        """How far off the node is; nothing for the cursor."""
        phrase = heard.phrase
        if node == state.cursor:
            return NO_FEATURES
        table = heard.turns
        turns = table.get(state.carry)
        if turns is None:
            turns = table[state.carry] = turns_of(phrase, state.carry)
        age = MOST_AGE  # also for what was told so long ago that it is no longer listed
        recent = state.nodes[-MOST_AGE:]
        if node in recent:
            age = len(recent) - 1 - recent.index(node)
        undone, ahead = self._way(state.cursor, node)
        deep = relation == "up4+"
        habit = level(state.habits.jump)
        key = (known, turns if deep else None, age, undone, ahead, habit)
        found = self._far.get(key)
        if found is None:
            features = [*distance_features(known, deep, turns, age, undone, ahead), ("habit:jump", habit)]
            found = self._far[key] = (features, self.score(features))
        return found

    def _way(self, cursor: int, node: int) -> tuple[int, int]:
        """Plies back from the cursor to the last common node, and on from there."""
        tree = self.tree
        same = (tree.line[cursor] & tree.line[node]).bit_count() - 1
        return tree.depth[cursor] - same, tree.depth[node] - same

    def stands(self, heard: Heard, state: State, node: int) -> bool:
        """ "g3 instead of h3" is said where h3 stands."""
        said = self.fitting.rather(heard, node)
        return any(uci in said and state.mask >> child & 1 for uci, child in self.tree.children[node].items())

    def beside(self, state: State, node: int, fit: Fitted) -> Scored:
        """Features of standing beside a move already told there: the same man, the same square."""
        if not self.tree.brood[node] & state.mask:
            return NO_FEATURES
        source = target = False
        for uci, child in self.tree.children[node].items():
            if state.mask >> child & 1 and uci != fit.choice.uci:
                source = source or uci[:2] == fit.choice.uci[:2]
                target = target or uci[2:4] == fit.choice.uci[2:4]
        return self._neighbours[source, target]

    def side(self, heard: Heard, state: State, white: bool, where: str) -> Scored:
        """Whether the side to move is the one named or the one the talk is for; `where` is the kind of place."""
        phrase = heard.phrase
        if not phrase.side and not state.persons:
            return NO_FEATURES
        key = ("side", white, where, state.persons)
        return self.once(heard, key, lambda: side_features(state, phrase, white, where))
