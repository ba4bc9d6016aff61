"""What each phrase does, guessed from the run of the whole talk before any board is asked: the gist.

A small recurrent network (gated units after K. Cho et al. 2014, read both ways) over the words of the talk, with the
stretches that may name a move marked. Its guess is one voice among many for the decoder, which weighs it against the
board. It was learned by `python -m lesson.learn`; only arrays are shipped, and nothing but numpy runs them.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from zipfile import BadZipFile

import numpy as np
import numpy.typing as npt

from lesson.errors import DataError
from lesson.hear.dictation import Dictation
from lesson.hear.phrase import Phrase

JUMPS = ("parent", "line", "tip", "far", "again")
"""Where a phrase may play when not where the talk stands: before the last move, where the line told now splits off,
at the end of a line left, farther off; or anywhere, a move that stands there already."""
KINDS = ("none", "here", *JUMPS, "fill", "return")
"""What a phrase may do: nothing; play where the talk stands, or elsewhere; play after moves nobody said; go back."""

Array = npt.NDArray[np.float32]
Item = Phrase | Dictation

_PARTS = re.compile(r"[a-z]+(?:'[a-z]+)?|\d|[.?!;:]|,|[\u2013\u2014-]")
_PAD, _OTHER = 0, 1  # numbers of no word, and of a word that was not learned
LEAST = -7.0
"""The least of a kind's logarithm: the network never says never."""


@dataclass(frozen=True, slots=True)
class Run:
    """A talk as the network reads it: the numbers of its tokens and of the tags on them (0: no phrase), and the first
    and last token of every item."""

    words: npt.NDArray[np.int32]
    tags: npt.NDArray[np.int32]
    spans: npt.NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Text:
    """A talk before it is numbered: its tokens, the tag on each ("" for none), first and last token of every item."""

    tokens: tuple[str, ...]
    tags: tuple[str, ...]
    spans: tuple[tuple[int, int], ...]


def text_of(words: Sequence[str], items: Sequence[Item]) -> Text:
    """The tokens of a talk and what its phrases are."""
    tokens: list[str] = []
    starts = [0]
    for word in words:
        tokens += _PARTS.findall(word.lower().replace("\u2019", "'"))
        starts.append(len(tokens))
    tags = [""] * len(tokens)
    spans = []
    for item in items:
        first, last = starts[item.first], starts[item.last]
        tags[first:last] = [tag_of(item)] * (last - first)
        spans.append((min(first, len(tokens) - 1), max(first, last - 1)))
    return Text(tuple(tokens), tuple(tags), tuple(spans))


def tag_of(item: Item) -> str:
    """The sort of phrase, in few words."""
    if isinstance(item, Dictation):
        return "dictation"
    return f"{item.kind}:{item.piece}:{item.take:d}{item.check:d}{item.form}"


class Gist:
    """The network: its words and tags, and its arrays by name (see `lesson/learn/gist.py` for their shapes)."""

    def __init__(self, words: Sequence[str], tags: Sequence[str], arrays: dict[str, Array]) -> None:
        self.words = {word: number for number, word in enumerate(words, 2)}
        self.tags = {tag: number for number, tag in enumerate(tags, 2)}
        self.arrays = arrays

    def run_of(self, text: Text) -> Run:
        """The talk in numbers."""
        words = [self.words.get(token, _OTHER) for token in text.tokens]
        tags = [self.tags.get(tag, _OTHER) if tag else _PAD for tag in text.tags]
        spans = np.array(text.spans, np.int32).reshape(-1, 2)
        return Run(np.array(words, np.int32), np.array(tags, np.int32), spans)

    def guesses(self, words: Sequence[str], items: Sequence[Item]) -> Array:
        """The logarithms of the odds of KINDS for every item, one row each."""
        return self.odds(self.run_of(text_of(words, items)))

    def odds(self, run: Run) -> Array:
        """The same for a talk in numbers."""
        if not len(run.spans) or not len(run.words):
            return np.zeros((len(run.spans), len(KINDS)), np.float32)
        a = self.arrays
        inputs = np.concatenate([a["word"][run.words], a["tag"][run.tags]], axis=1)
        both = np.stack([inputs, inputs[::-1]])
        driven = both @ a["drive"] + a["bias"][:, None]
        size = a["keep"].shape[1]
        states = np.zeros((2, len(run.words), size), np.float32)
        state = np.zeros((2, 1, size), np.float32)
        for at in range(len(run.words)):
            state = step(driven[:, at : at + 1], state, a["keep"], a["inner"])
            states[:, at] = state[:, 0]
        seen = np.concatenate([states[0], states[1, ::-1]], axis=1)
        ends = np.concatenate([seen[run.spans[:, 0]], seen[run.spans[:, 1]]], axis=1)
        hidden = np.maximum(ends @ a["hidden"] + a["hidden_bias"], 0.0)
        scores = hidden @ a["out"] + a["out_bias"]
        scores -= scores.max(axis=1, keepdims=True)
        odds: Array = scores - np.log(np.exp(scores).sum(axis=1, keepdims=True))
        return odds


def step(driven: Array, state: Array, keep: Array, inner: Array) -> Array:
    """One step of the gated units, both ways at once: `driven` is what the words bring, `state` what was kept."""
    size = state.shape[-1]
    recalled = state @ keep
    gates = sigmoid(driven[..., : 2 * size] + recalled[..., : 2 * size])
    reset, update = gates[..., :size], gates[..., size:]
    new = np.tanh(driven[..., 2 * size :] + reset * (recalled[..., 2 * size :] + inner[:, None]))
    kept: Array = (1 - update) * new + update * state
    return kept


def sigmoid(x: Array) -> Array:
    """1 / (1 + e^-x), in a form that does not overflow."""
    out: Array = 0.5 + 0.5 * np.tanh(0.5 * x)
    return out


def with_gist(items: Sequence[Item], words: Sequence[str], gist: Gist | None) -> list[Item]:
    """The items, each phrase with the network's guess; without a network as they are."""
    if gist is None or not items:
        return list(items)
    rows = np.maximum(gist.guesses(words, items), LEAST).round(3).tolist()
    return [
        replace(item, gist=tuple(row)) if isinstance(item, Phrase) else item
        for item, row in zip(items, rows, strict=True)
    ]


def read_gist(path: Path) -> Gist | None:
    """The network of one file, None where there is none.

    Raises: DataError if the file is broken.
    """
    try:
        return parse_gist(path.read_bytes())
    except FileNotFoundError:
        return None
    except (OSError, EOFError, ValueError, KeyError, BadZipFile) as error:
        raise DataError(f"{path}: not a network ({error}); run `python -m lesson.learn` to make it") from error


def parse_gist(data: bytes) -> Gist:
    """The network in the bytes of a file.

    Raises: EOFError, ValueError, KeyError or BadZipFile where they hold none.
    """
    with np.load(io.BytesIO(data), allow_pickle=False) as file:
        arrays = {name: np.asarray(file[name], np.float32) for name in file.files if name not in ("words", "tags")}
        return Gist(str(file["words"]).split("\n"), str(file["tags"]).split("\n"), arrays)
