"""Which moves a phrase may name at a node, worked out once per phrase and node."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from lesson.decode.borne_out import claim_features
from lesson.decode.fit import (
    CLEAN_COST,
    MAX_SQUARE_COST,
    Features,
    candidates,
    fit_features,
    near_candidates,
    plausibility,
    squares_within,
)
from lesson.decode.position import LETTER, Choice, Tree
from lesson.decode.rules import is_clean
from lesson.decode.unsaid import Likely, likeliest
from lesson.hear.phrases import Phrase
from lesson.settings import PREPARED_GAP, PREPARED_STEP

Score = Callable[[Features], float]
Scored = tuple[Features, float]

KEEP_ELSEWHERE, KEEP_FILLS, KEEP_DOUBTFUL = 2, 6, 2
EXACT_COST = 0.5
_MOST_FITS, _MOST_FILLINGS, _MOST_WAYS = 12, 20, 24


class Fitted:
    """A move the phrase may name at a node, with its features and their score; `clean`: nothing speaks against it."""

    __slots__ = ("choice", "clean", "features", "score")

    def __init__(self, choice: Choice, features: Features, score: float) -> None:
        self.choice, self.features, self.score = choice, features, score
        self.clean = is_clean(features)


Filled = tuple[tuple[Choice, ...], Fitted, float]
"""The moves nobody said, the move the phrase names after them, and the logarithm of the former's probability."""


@dataclass
class Heard:
    """A phrase, its number in the talk, and what was worked out for it; `near` are the squares heard with little
    against them, `within` all it may mean, `exact` those with all but nothing against them (bit sets)."""

    phrase: Phrase
    index: int
    near: int
    within: int
    exact: int
    fits: dict[tuple[int, bool], list[Fitted]] = field(default_factory=dict)
    clean: dict[int, list[Fitted]] = field(default_factory=dict)
    rather: dict[int, frozenset[str]] = field(default_factory=dict)
    rests: dict[int, list[tuple[Choice, ...]]] = field(default_factory=dict)
    filled: dict[int, list[Filled]] = field(default_factory=dict)
    scored: dict[tuple[object, ...], Scored] = field(default_factory=dict)
    turns: dict[frozenset[str], tuple[str, ...]] = field(default_factory=dict)


@dataclass
class Fitting:
    """Answers for every phrase and node which moves fit, and keeps the answers while the phrase is near."""

    tree: Tree
    score: Score
    _heard: dict[int, Heard] = field(default_factory=dict)
    _likely: dict[int, list[Likely]] = field(default_factory=dict)

    def heard(self, index: int, phrase: Phrase) -> Heard:
        """What is known so far of a phrase, the one of this number or a part of it; the talk's phrases must live on."""
        found = self._heard.get(id(phrase))
        if found is None:
            near, within = squares_within(phrase, CLEAN_COST), squares_within(phrase, MAX_SQUARE_COST)
            exact = squares_within(phrase, EXACT_COST, mute=False)
            found = self._heard[id(phrase)] = Heard(phrase, index, near, within, exact)
        return found

    def forget_before(self, index: int) -> None:
        """Lets go of what was worked out for the phrases before; asked again, it is worked out again."""
        for old in [k for k, heard in self._heard.items() if heard.index < index]:
            del self._heard[old]

    def forget_all(self) -> None:
        """Lets go of everything."""
        self._heard.clear()
        self._likely.clear()

    def fits(self, heard: Heard, node: int, null: bool = False) -> list[Fitted]:
        """Moves the phrase may name at a node (or, with `null`, for the other side there), best first."""
        found = heard.fits.get((node, null))
        if found is None:
            found = heard.fits[node, null] = self._work_out(heard.phrase, node, heard.within, null)
        return found

    def clean(self, heard: Heard, node: int) -> list[Fitted]:
        """The best fits at a node with nothing against them."""
        found = heard.clean.get(node)
        if found is None:
            found = heard.clean[node] = [f for f in self._near(heard, node) if f.clean][:KEEP_ELSEWHERE]
        return found

    def all_clean(self, heard: Heard, nodes: Sequence[int]) -> dict[int, list[Fitted]]:
        """`clean` for each of the nodes; others may be in the answer as well."""
        found = heard.clean
        for node in [n for n in nodes if n not in found]:
            self.clean(heard, node)
        return found

    def _near(self, heard: Heard, node: int) -> list[Fitted]:
        phrase = heard.phrase
        if phrase.kind != "square" or (node, False) in heard.fits:
            return self.fits(heard, node)
        position = self.tree.position[node]
        if not position.may_reach(LETTER.index(phrase.piece or " "), heard.near):
            return []  # most nodes: no need to work out the legal moves
        return self._fitted(phrase, node, *near_candidates(phrase, position, heard.near, heard.within))

    def rather(self, heard: Heard, node: int) -> frozenset[str]:
        """The moves (UCI) that the phrase's "instead of" names at a node."""
        found = heard.rather.get(node)
        if found is None:
            rather = heard.phrase.rather
            assert rather is not None
            within = squares_within(rather, MAX_SQUARE_COST)
            named = [f for f in self._work_out(rather, node, within, False) if f.clean]
            found = heard.rather[node] = frozenset(f.choice.uci for f in named[:KEEP_ELSEWHERE])
        return found

    def there(self, heard: Heard, node: int) -> str:
        """Whether a man like the one named stands on the square named ("there"), and came there last ("just"), or does
        not ("not"); "" where no square was heard well."""
        phrase = heard.phrase
        if phrase.kind != "square" or not heard.exact:
            return ""
        piece = LETTER.index(phrase.piece or "P")
        board = self.tree.position[node].board
        if not (board.pieces_mask(piece, True) | board.pieces_mask(piece, False)) & heard.exact:
            return "not"
        last = self.tree.choice[node]
        return "just" if last is not None and heard.exact >> last.target & 1 else "there"

    def _work_out(self, phrase: Phrase, node: int, within: int, null: bool) -> list[Fitted]:
        position = self.tree.position[node].null if null else self.tree.position[node]
        if position is None:
            return []
        before = None if null else self.tree.choice[node]
        named = candidates(phrase, position, before, within)
        return self._fitted(phrase, node, named, len(named), null)[:_MOST_FITS]

    def _fitted(
        self, phrase: Phrase, node: int, named: Sequence[Choice], rivals: int, null: bool = False
    ) -> list[Fitted]:
        """The moves named, best first."""
        position = (self.tree.position[node].null if null else None) or self.tree.position[node]
        before = None if null else self.tree.choice[node]
        up = self.tree.parent[node]
        own = self.tree.choice[node] if null else self.tree.choice[up] if up >= 0 else None
        out = []
        for choice in named:
            features = fit_features(phrase, choice, (before, own), rivals)
            features += plausibility(position, choice)
            if phrase.claims:
                features += claim_features(phrase, choice)
            out.append(Fitted(choice, features, self.score(features)))
        out.sort(key=lambda f: (-f.score, f.choice.uci))
        return out

    # -- moves left out

    def filled(self, heard: Heard, node: int) -> list[Filled]:
        """A move nobody said at a node, and then a move the phrase names; the best few."""
        found = heard.filled.get(node)
        if found is None:
            answers = self._check_answers if self.tree.position[node].null is None else self._fill_before
            found = answers(heard, node)
            if self.clean(heard, node):  # hardly anything is missing where the phrase can be played as it stands
                found = found[:KEEP_DOUBTFUL]
            heard.filled[node] = found = found + self._along_prepared(heard, node)
        return found

    def _along_prepared(self, heard: Heard, node: int) -> list[Filled]:
        """Moves nobody said that lead along the teacher's own analysis to one the phrase names."""
        found: list[Filled] = []
        ways: list[tuple[int, tuple[Choice, ...], float]] = [(node, (), 0.0)]
        for _ in range(PREPARED_GAP):
            ways = [way for start in ways for way in self._prepared_on(start)][:_MOST_WAYS]
            for at, unsaid, likely in ways:
                mine = self.tree.position[at].prepared or ()
                fits = [fit for fit in self.clean(heard, at) if fit.choice.uci in mine]
                found += [(unsaid, fit, likely) for fit in fits[:1]]
        return found[:KEEP_FILLS]

    def _prepared_on(
        self, way: tuple[int, tuple[Choice, ...], float]
    ) -> Iterator[tuple[int, tuple[Choice, ...], float]]:
        node, unsaid, likely = way
        position = self.tree.position[node]
        mine = sorted(position.prepared or ())
        for uci in mine:
            if choice := position.by_uci.get(uci):
                less = math.log(len(mine)) + (PREPARED_STEP if unsaid else 0.0)
                yield self.tree.child(node, choice), (*unsaid, choice), likely - less

    def _fill_before(self, heard: Heard, node: int) -> list[Filled]:
        """A likely move nobody said, and then the phrase, played as if that move changed nothing."""
        found: list[Filled] = []
        for fit in [f for f in self.fits(heard, node, null=True) if f.clean][:2]:
            count = 0
            for likely, choice in self._likely_at(node):
                board = self.tree.position[node].board
                board.push(choice.move)
                possible = board.is_legal(fit.choice.move)
                board.pop()
                if possible:
                    found.append(((choice,), fit, likely))
                    count += 1
                    if count >= KEEP_FILLS:
                        break
        return found

    def _check_answers(self, heard: Heard, node: int) -> list[Filled]:
        """In check the few legal answers are tried one by one."""
        found: list[Filled] = []
        for likely, choice in self._likely_at(node):
            fits = self.clean(heard, self.tree.child(node, choice))
            found += [((choice,), fit, likely) for fit in fits[:1]]
        found.sort(key=lambda f: (-f[2] - f[1].score, f[0][0].uci))
        return found[:KEEP_FILLS]

    def _likely_at(self, node: int) -> list[Likely]:
        found = self._likely.get(node)
        if found is None:
            found = self._likely[node] = likeliest(self.tree, node, self.score, _MOST_FILLINGS)
        return found
