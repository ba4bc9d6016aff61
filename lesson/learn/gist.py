"""Learning the gist (lesson/hear/gist.py): by gradient descent through the run of every talk, with numpy alone.

The arrays, for D inputs (word and tag together) and H gated units each way: word (V, 64), tag (T, 24), drive (2, D,
3H), bias (2, 3H), keep (2, H, 3H), inner (2, H), hidden (4H, H), hidden_bias (H), out (H, kinds), out_bias. The first
axis of 2 is the way the talk is read. Steps by Adam (Kingma & Ba 2015) with decay, under one cycle of the rate. The
sizes and rates were set by hand on talks of our own; more units or more rounds fit the talks learned from better and
others worse.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix

from lesson.decode.rules import gist_value
from lesson.hear.gist import KINDS, LEAST, Array, Gist, Item, Run, Text, sigmoid, text_of
from lesson.learn.optimise import Packed

WORD, TAG, UNITS = 64, 24, 96
ROUNDS, BATCH, RATE, DECAY, CLIP = 9, 16, 4e-3, 1e-4, 1.0
DROPPED, WORDS_DROPPED, TAGS_DROPPED = 0.5, 0.08, 0.03
_WORD_IN, _TAG_IN = 3, 20  # talks a word, and places a tag, must be met in to be learned

Table = dict[str, Array]


@dataclass(frozen=True, slots=True)
class Taught:
    """A transcript to learn from: the talk's name, its text, the items (by number) that teach something and which of
    KINDS are right for each."""

    name: str
    text: Text
    items: npt.NDArray[np.int32]
    right: npt.NDArray[np.bool_]


def learn_gist(lessons: Sequence[Taught], seed: int = 0) -> Gist:
    """The network that makes the right kinds likeliest. The same lessons and seed give the same network."""
    random = np.random.default_rng(seed)
    gist = _new(lessons, random)
    taught = [(gist.run_of(lesson.text), lesson) for lesson in lessons if len(lesson.items)]
    adam = _Adam(gist.arrays, ROUNDS * -(-len(taught) // BATCH))
    for _ in range(ROUNDS):
        order = random.permutation(len(taught))
        for at in range(0, len(order), BATCH):
            adam.step(_Pass(gist.arrays, [taught[k] for k in order[at : at + BATCH]], random).gradients())
    return gist


def taught_by(
    name: str, words: Sequence[str], items: Sequence[Item], taught: Sequence[tuple[int, frozenset[str]]]
) -> Taught:
    """What a transcript teaches: `taught` are the numbers of items and what each may rightly do."""
    right = np.array([[kind in kinds for kind in KINDS] for _, kinds in taught], np.bool_).reshape(-1, len(KINDS))
    return Taught(name, text_of(words, items), np.array([index for index, _ in taught], np.int32), right)


def to_bytes(gist: Gist) -> bytes:
    """The network as a file, its numbers in half precision."""
    arrays: dict[str, Any] = {name: array.astype(np.float16) for name, array in gist.arrays.items()}
    file = io.BytesIO()
    np.savez_compressed(file, words="\n".join(gist.words), tags="\n".join(gist.tags), **arrays)
    return file.getvalue()


def with_odds(packed: Packed, odds: Array) -> Packed:
    """The examples with the network's guesses in place of those they were gathered with; `odds` has a row per
    example."""
    values = packed.values.copy()
    example = np.repeat(np.repeat(np.arange(len(packed.candidates)), packed.candidates), packed.features)
    table = np.maximum(odds, LEAST)
    for number, name in enumerate(packed.names):
        if name.startswith("gist:"):
            of_kind = np.array([gist_value(row, name[5:]) for row in table], np.float32)
            places = packed.columns == number
            values[places] = of_kind[example[places]]
    return replace(packed, values=values)


def _new(lessons: Sequence[Taught], random: np.random.Generator) -> Gist:
    met: dict[str, set[str]] = {}
    for lesson in lessons:
        met.setdefault(lesson.name, set()).update(lesson.text.tokens)
    words = Counter(token for tokens in met.values() for token in tokens)
    tags = Counter(tag for lesson in lessons for tag in lesson.text.tags if tag)
    known = sorted(w for w, n in words.items() if n >= _WORD_IN)
    kinds = sorted(t for t, n in tags.items() if n >= _TAG_IN)

    def spread(*shape: int, wide: float | None = None) -> Array:
        bound = wide if wide is not None else shape[-2] ** -0.5
        return random.uniform(-bound, bound, shape).astype(np.float32)

    narrow = UNITS**-0.5
    arrays: Table = {
        "word": random.standard_normal((len(known) + 2, WORD)).astype(np.float32),
        "tag": random.standard_normal((len(kinds) + 2, TAG)).astype(np.float32),
        "drive": spread(2, WORD + TAG, 3 * UNITS, wide=narrow),
        "bias": spread(2, 3 * UNITS, wide=narrow),
        "keep": spread(2, UNITS, 3 * UNITS, wide=narrow),
        "inner": spread(2, UNITS, wide=narrow),
        "hidden": spread(4 * UNITS, UNITS),
        "hidden_bias": np.zeros(UNITS, np.float32),
        "out": spread(UNITS, len(KINDS)),
        "out_bias": np.zeros(len(KINDS), np.float32),
    }
    arrays["word"][0] = 0.0
    return Gist(known, kinds, arrays)


class _Pass:
    """A batch of talks, forwards and backwards. Talks are laid out (way, time, talk, unit); the second way is each talk
    from its end, so that both begin at time 0."""

    def __init__(self, a: Table, batch: Sequence[tuple[Run, Taught]], random: np.random.Generator) -> None:
        self.a, self.random = a, random
        lengths = np.array([len(run.words) for run, _ in batch])
        time, talks = int(lengths.max()), len(batch)
        words, tags = np.zeros((time, talks), np.int32), np.zeros((time, talks), np.int32)
        for k, (run, _) in enumerate(batch):
            words[: lengths[k], k], tags[: lengths[k], k] = run.words, run.tags
        words[(random.random(words.shape) < WORDS_DROPPED) & (words > 0)] = 1
        tags[(random.random(tags.shape) < TAGS_DROPPED) & (tags > 0)] = 1
        self.words, self.tags = words, tags
        self.there = np.arange(time)[:, None] < lengths
        # the place in time of a token in the talk read from its end; what is not there stays where it is
        self.turned = np.where(self.there, lengths - 1 - np.arange(time)[:, None], np.arange(time)[:, None])
        self.talk = np.concatenate([np.full(len(lesson.items), k) for k, (_, lesson) in enumerate(batch)])
        self.ends = np.concatenate([run.spans[lesson.items] for run, lesson in batch]).T
        self.right = np.concatenate([lesson.right for _, lesson in batch])

    def _mask(self, shape: tuple[int, ...]) -> Array:
        return (self.random.random(shape, np.float32) >= DROPPED).astype(np.float32) / np.float32(1 - DROPPED)

    def _turn(self, x: Array) -> Array:
        return np.take_along_axis(x, self.turned[:, :, None], axis=0)

    def gradients(self) -> Table:
        """What to change, by array."""
        a = self.a
        inputs = np.concatenate([a["word"][self.words], a["tag"][self.tags]], axis=2)
        dropped = self._mask(inputs.shape)
        inputs *= dropped
        both = np.stack([inputs, self._turn(inputs)])
        states, saved = self._forwards(both)
        out, to_states = self._judge(states)
        to_inputs, more = self._backwards(both, states, saved, to_states)
        out.update(more)
        to_inputs = (to_inputs[0] + self._turn(to_inputs[1])) * dropped
        flat = to_inputs.reshape(-1, to_inputs.shape[2])
        out["word"] = _gathered(self.words, flat[:, :WORD], len(a["word"]))
        out["tag"] = _gathered(self.tags, flat[:, WORD:], len(a["tag"]))
        return out

    def _forwards(self, both: Array) -> tuple[Array, list[Array]]:
        a, size = self.a, UNITS
        ways, time, talks, _ = both.shape
        driven = np.matmul(both.reshape(ways, time * talks, -1), a["drive"]) + a["bias"][:, None]
        driven = driven.reshape(ways, time, talks, 3 * size)
        states = np.zeros((ways, time + 1, talks, size), np.float32)
        gates = np.zeros((ways, time, talks, 2 * size), np.float32)
        inner, new = np.zeros_like(states[:, 1:]), np.zeros_like(states[:, 1:])
        for t in range(time):
            before = states[:, t]
            recalled = before @ a["keep"]
            gates[:, t] = sigmoid(driven[:, t, :, : 2 * size] + recalled[..., : 2 * size])
            inner[:, t] = recalled[..., 2 * size :] + a["inner"][:, None]
            new[:, t] = np.tanh(driven[:, t, :, 2 * size :] + gates[:, t, :, :size] * inner[:, t])
            update = gates[:, t, :, size:]
            after = (1 - update) * new[:, t] + update * before
            states[:, t + 1] = np.where(self.there[t][:, None], after, before)
        return states, [gates, inner, new]

    def _judge(self, states: Array) -> tuple[Table, Array]:
        """The loss's gradient at the judging layers, and at the states."""
        a = self.a
        first, last = self.ends
        seen = [states[0, first + 1, self.talk], states[1, self.turned[first, self.talk] + 1, self.talk]]
        seen += [states[0, last + 1, self.talk], states[1, self.turned[last, self.talk] + 1, self.talk]]
        ends = np.concatenate(seen, axis=1)
        ends_kept, hidden_kept = self._mask(ends.shape), self._mask((len(ends), UNITS))
        ends *= ends_kept
        raw = ends @ a["hidden"] + a["hidden_bias"]
        hidden = np.maximum(raw, 0.0) * hidden_kept
        scores = hidden @ a["out"] + a["out_bias"]
        odds = np.exp(scores - scores.max(axis=1, keepdims=True))
        odds /= odds.sum(axis=1, keepdims=True)
        right = odds * self.right
        to_scores = ((odds - right / np.maximum(right.sum(axis=1, keepdims=True), 1e-9)) / len(odds)).astype(np.float32)
        to_hidden = to_scores @ a["out"].T * hidden_kept * (raw > 0)
        to_ends = np.split(to_hidden @ a["hidden"].T * ends_kept, 4, axis=1)
        to_states = np.zeros_like(states)
        for way, at, part in zip((0, 1, 0, 1), (first, first, last, last), to_ends, strict=True):
            place = at if way == 0 else self.turned[at, self.talk]
            np.add.at(to_states[way], (place + 1, self.talk), part)
        out = {
            "hidden": ends.T @ to_hidden,
            "hidden_bias": to_hidden.sum(axis=0),
            "out": hidden.T @ to_scores,
            "out_bias": to_scores.sum(axis=0),
        }
        return out, to_states

    def _backwards(self, both: Array, states: Array, saved: Sequence[Array], to_states: Array) -> tuple[Array, Table]:
        a, size = self.a, UNITS
        gates, inner, new = saved
        ways, time, talks, _ = both.shape
        to_driven = np.zeros((ways, time, talks, 3 * size), np.float32)
        to_recalled = np.zeros_like(to_driven)
        back = np.ascontiguousarray(a["keep"].transpose(0, 2, 1))
        flow = np.zeros((ways, talks, size), np.float32)
        for t in range(time - 1, -1, -1):
            flow += to_states[:, t + 1]
            there = self.there[t][:, None]
            here = np.where(there, flow, 0.0)
            reset, update = gates[:, t, :, :size], gates[:, t, :, size:]
            to_new = here * (1 - update) * (1 - new[:, t] ** 2)
            into, recalled = to_driven[:, t], to_recalled[:, t]
            into[..., :size] = to_new * inner[:, t] * reset * (1 - reset)
            into[..., size : 2 * size] = here * (states[:, t] - new[:, t]) * update * (1 - update)
            into[..., 2 * size :] = to_new
            recalled[..., : 2 * size] = into[..., : 2 * size]
            recalled[..., 2 * size :] = to_new * reset
            flow = np.where(there, here * update + recalled @ back, flow)
        flat = to_driven.reshape(ways, time * talks, 3 * size)
        flat_recalled = to_recalled.reshape(ways, time * talks, 3 * size)
        before = states[:, :-1].reshape(ways, time * talks, size)
        out = {
            "drive": both.reshape(ways, time * talks, -1).transpose(0, 2, 1) @ flat,
            "bias": flat.sum(axis=1),
            "keep": before.transpose(0, 2, 1) @ flat_recalled,
            "inner": flat_recalled[..., 2 * size :].sum(axis=1),
        }
        to_inputs = flat @ a["drive"].transpose(0, 2, 1)
        return to_inputs.reshape(both.shape), out


def _gathered(numbers: npt.NDArray[np.int32], rows: Array, size: int) -> Array:
    """The rows summed by number; number 0 is no word and learns nothing."""
    flat = numbers.reshape(-1)
    count = len(flat)
    pick = csr_matrix((np.ones(count, np.float32), flat, np.arange(count + 1)), shape=(count, size))
    out: Array = np.asarray(pick.T @ rows, np.float32)
    out[0] = 0.0
    return out


class _Adam:
    def __init__(self, arrays: Table, steps: int) -> None:
        self.arrays, self.steps, self.done = arrays, steps, 0
        self.first: dict[str, Any] = {name: np.zeros_like(x) for name, x in arrays.items()}
        self.second: dict[str, Any] = {name: np.zeros_like(x) for name, x in arrays.items()}

    def _rate(self) -> float:
        """Up from a 25th of the rate over the first three tenths, then down to almost nothing."""
        share = self.done / max(1, self.steps)
        low, peak = RATE / 25, RATE
        if share < 0.3:
            return float(peak + (low - peak) * (1 + np.cos(np.pi * share / 0.3)) / 2)
        return float(peak * (1 + np.cos(np.pi * (share - 0.3) / 0.7)) / 2)

    def step(self, gradients: Table) -> None:
        """Changes the arrays in place."""
        rate = self._rate()
        self.done += 1
        norm = float(np.sqrt(sum(float((g * g).sum()) for g in gradients.values())))
        scale = min(1.0, CLIP / (norm + 1e-6))
        for name, raw in gradients.items():
            g = raw * scale
            m, v = self.first[name], self.second[name]
            m += 0.1 * (g - m)
            v += 0.001 * (g * g - v)
            moved = m / (1 - 0.9**self.done) / (np.sqrt(v / (1 - 0.999**self.done)) + 1e-8)
            self.arrays[name] -= (rate * (moved + DECAY * self.arrays[name])).astype(np.float32)
