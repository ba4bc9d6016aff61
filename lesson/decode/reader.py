"""One talk read again and again: what an answer leaves as it was is not searched a second time."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

from lesson.decode.actions import Actor
from lesson.decode.beam import Beam, Item, Track, Width, noise_from
from lesson.decode.confidence import chain_of, evidence, step_confidence
from lesson.decode.events import to_decoded
from lesson.decode.glance import Glance, Old, glance
from lesson.decode.position import Tree, bits
from lesson.decode.recall import Memory
from lesson.decode.weights import Weights, load_weights
from lesson.hear import hear_talk
from lesson.hear.gist import with_gist
from lesson.hear.known import with_facts
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import Sounds, load_sounds
from lesson.model import Decoded, Fact, Sides, Talk, Word
from lesson.openings import Key
from lesson.settings import PREPARED_WEIGHTS


@contextmanager
def _no_collecting() -> Iterator[None]:
    """The search keeps millions of records and hardly makes a cycle; looking for cycles took half its time."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


def _sided(item: Item, sides: Sides) -> Item:
    """A phrase whose "we" is known to be White says so as "White" would."""
    if isinstance(item, Phrase) and not item.side and item.person in sides:
        return replace(item, side=sides[item.person], given=True)
    return item


@dataclass
class _Reading:
    """A reading of the talk, `done` when it came to the end; `decoded` and what a glance needs are known then."""

    items: Sequence[Item]
    track: Track
    margins: dict[int, float] = field(default_factory=dict)
    done: Old | None = None
    decoded: Decoded | None = None


class Reader:
    """Reads a talk with the facts known about it, as often as these change.

    What it answers is what a first reading with the same facts would answer, because what it keeps of earlier readings
    is only what cannot have changed: the search goes on from the last item that neither differs nor could look ahead to
    one that does. It remembers the last whole reading and the one begun last; nothing where the talk is read only
    `once`. Raises DataError if a data file of the
    project is missing or broken.
    """

    def __init__(
        self,
        prepared: Mapping[Key, frozenset[str]] | None = None,
        weights: Weights | None = None,
        sounds: Sounds | None = None,
        width: Width | None = None,
        once: bool = False,
    ) -> None:
        self.once = once
        self.prepared, self.sounds, self.width = prepared, sounds or load_sounds(), width or Width()
        self.weights = weights or load_weights()
        if prepared:
            self.weights = self.weights.besides(PREPARED_WEIGHTS)
        self._heard: tuple[tuple[Word, ...], Sequence[Item]] | None = None
        self._readings: list[_Reading] = []
        self._memory = Memory()

    def read(
        self,
        talk: Talk,
        facts: Sequence[Fact] = (),
        between: Callable[[int], None] | None = None,
        sides: Sides | None = None,
    ) -> Decoded:
        """The told tree that explains the talk best and in which the facts hold; `sides` says who speaks for which.
        `between` is called all the time on the way, with the number of the word that is being read; what it raises
        gives the reading up, and the next one goes on from there as far as it can."""
        items = self._items(talk, facts, sides or {})
        count, before = max(
            ((self._shared(reading, items), reading) for reading in self._readings),
            key=lambda pair: pair[0],
            default=(0, _Reading((), Track())),
        )
        if before.decoded is not None and before.items == items:
            return before.decoded
        track = before.track.first(count)
        self._make_room(items)
        tree = Tree.of(before.track.nodes_at(count), self.prepared) if count else Tree(self.prepared)
        reading = _Reading(items, track)
        if not self.once:
            self._readings = [r for r in self._readings if r.done is not None] + [reading]
        actor = Actor(tree, self.weights)
        with _no_collecting():
            beam = Beam(tree, actor, self.width)
            if between is not None:
                beam.between = lambda index: between(items[index].first)
            best, posteriors = beam.run(items, None if self.once else track)
            chain = chain_of(best)
            alive = {id(state) for state in chain}
            known = [*before.margins.items(), *(m for r in self._readings for m in r.margins.items())]
            reading.margins = {key: value for key, value in known if key in alive}
            found = evidence(items, actor, chain, posteriors, reading.margins)
            trust = self.weights.trust
            steps = [
                posterior if features is None or not trust else step_confidence(features, trust)
                for features, posterior in zip(found, posteriors, strict=True)
            ]
            reading.decoded = to_decoded(items, actor, best, steps, trust, self._memory)
        if self.once:
            return reading.decoded
        told = {n: (tree.parent[n], tree.uci[n]) for n in bits(best.mask)}
        starts = {n: tree.position[n].board for n, (up, _) in told.items() if up < 0}
        reading.done = Old(items, chain, steps, told, starts)
        self._readings = [reading]
        return reading.decoded

    def glance(self, talk: Talk, facts: Sequence[Fact] = (), sides: Sides | None = None) -> Glance | None:
        """What the talk may become with these facts, quickly: only a few phrases behind each that differs are searched,
        and in a narrow beam; the rest is taken as in the last whole reading. None before there is one."""
        whole = next((reading for reading in self._readings if reading.done is not None), None)
        if whole is None or whole.done is None:
            return None
        items = self._items(talk, facts, sides or {})
        history = whole.track.history
        count = min(_agree(whole.items, items), len(history))
        tree = Tree.of(whole.track.nodes_at(count), self.prepared) if count else Tree(self.prepared)
        with _no_collecting():
            actor, trust = Actor(tree, self.weights), self.weights.trust
            return glance(whole.done, items, history[:count], actor, trust, self._memory)

    def heard(self, talk: Talk) -> Sequence[Item]:
        """The phrases and dictated positions of a talk, whatever facts are known of it."""
        return self._items(talk, (), {})

    def _make_room(self, items: Sequence[Item]) -> None:
        """Let go of what the last whole reading found behind the first item that differs; only glances need it yet."""
        for reading in self._readings:
            if reading.done is not None:
                reading.track = reading.track.upto(_agree(reading.items, items))

    def _items(self, talk: Talk, facts: Sequence[Fact], sides: Sides) -> Sequence[Item]:
        if self._heard is None or self._heard[0] != talk.words:
            heard = hear_talk(talk, self.sounds)
            self._heard = talk.words, with_gist(heard, [word.text for word in talk.words], self.weights.gist)
        items = with_facts(self._heard[1], facts)
        return [_sided(item, sides) for item in items] if sides else items

    def _shared(self, reading: _Reading, items: Sequence[Item]) -> int:
        """Items after which the hypotheses are those of an earlier reading: they were ranked looking ahead."""
        same = _agree(reading.items, items)
        if same == len(items) == len(reading.items):
            same += self.width.ahead
        return min(max(0, same - self.width.ahead), len(reading.track.history))


def _agree(old: Sequence[Item], new: Sequence[Item]) -> int:
    """Items that are the same from the first on; a dictated position is taken by how well what follows was heard."""
    count = 0
    for a, b in zip(old, new, strict=False):
        if a is not b and a != b:
            break
        count += 1
    while count and noise_from(count - 1, old) != noise_from(count - 1, new):
        count -= 1
    return count
