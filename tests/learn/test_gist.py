"""The network that guesses what a phrase does from the run of the talk: it learns, repeats itself, and is read back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lesson.decode.rules import gist_value
from lesson.errors import DataError
from lesson.hear import hear_talk
from lesson.hear.gist import JUMPS, KINDS, LEAST, Gist, Text, parse_gist, read_gist, text_of, with_gist
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import load_sounds
from lesson.learn import gist as learning
from lesson.learn.forced import Example
from lesson.learn.gist import Taught, learn_gist, to_bytes, with_odds
from lesson.learn.optimise import pack
from tests.decode.test_decode import talk_of


@pytest.fixture(autouse=True)
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """A network small enough to learn in a test."""
    for name, value in {"WORD": 8, "TAG": 4, "UNITS": 8, "BATCH": 8, "_WORD_IN": 1, "_TAG_IN": 1}.items():
        monkeypatch.setattr(learning, name, value)


def talks(count: int, words: int = 12) -> list[Taught]:
    """Made-up talks in which only the very first word says what the phrase far behind it does."""
    chance = np.random.default_rng(3)
    out = []
    for number in range(count):
        kind = number % 2
        tokens = ("played" if kind else "imagined", *chance.choice(["and", "so", "well"], words))
        tags = ("",) * words + ("square:N:00full",)
        right = np.zeros((1, len(KINDS)), np.bool_)
        right[0, kind] = True
        out.append(Taught(f"talk {number}", Text(tokens, tags, ((words, words),)), np.array([0], np.int32), right))
    return out


def odds(gist: Gist, taught: Taught) -> list[float]:
    return [float(x) for x in np.exp(gist.odds(gist.run_of(taught.text)))[0]]


def test_what_was_said_long_before_tells_what_a_phrase_does(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "ROUNDS", 60)
    monkeypatch.setattr(learning, "RATE", 0.02)
    monkeypatch.setattr(learning, "DROPPED", 0.1)
    monkeypatch.setattr(learning, "WORDS_DROPPED", 0.0)
    gist = learn_gist(talks(64))
    unseen = talks(8, words=9)
    assert all(odds(gist, t)[k % 2] > 0.9 for k, t in enumerate(unseen))


def test_the_same_talks_give_the_same_network(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "ROUNDS", 2)
    assert to_bytes(learn_gist(talks(10))) == to_bytes(learn_gist(talks(10)))


def test_gradients_are_those_of_the_loss(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DROPPED", "WORDS_DROPPED", "TAGS_DROPPED"):
        monkeypatch.setattr(learning, name, 0.0)
    taught = [*talks(3), *talks(2, words=5)]  # of two lengths: the shorter must not learn from what is not there
    chance = np.random.default_rng(5)
    gist = learning._new(taught, chance)
    for name in gist.arrays:
        gist.arrays[name] = gist.arrays[name].astype(np.float64)

    def loss() -> float:
        return -sum(float(np.log(odds(gist, t)[k])) for t in taught for k in np.flatnonzero(t.right[0])) / len(taught)

    found = learning._Pass(gist.arrays, [(gist.run_of(t.text), t) for t in taught], chance).gradients()
    for name, array in gist.arrays.items():
        for _ in range(4):
            at = tuple(int(chance.integers(1 if n > 2 else 0, n)) for n in array.shape)
            kept, step = float(array[at]), 1e-4
            array[at] = kept + step
            above = loss()
            array[at] = kept - step
            below = loss()
            array[at] = kept
            assert (above - below) / (2 * step) == pytest.approx(float(found[name][at]), abs=2e-4), name


def test_a_network_is_read_back_and_a_broken_one_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "ROUNDS", 1)
    gist = learn_gist(talks(6))
    path = tmp_path / "gist.npz"
    path.write_bytes(to_bytes(gist))
    back = read_gist(path)
    assert back is not None
    assert odds(back, talks(1)[0]) == pytest.approx(odds(gist, talks(1)[0]), abs=0.01)
    assert read_gist(tmp_path / "none.npz") is None
    for data in (b"", b"PK\x03\x04 cut off", path.read_bytes()[:200]):
        path.write_bytes(data)
        with pytest.raises(DataError, match="not a network"):
            read_gist(path)


def test_every_phrase_is_given_a_guess_and_words_are_left_alone() -> None:
    words = "well, knight f3. Then – knight c6, and so on"
    items = hear_talk(talk_of(words), load_sounds())
    gist = learning._new(talks(2), np.random.default_rng(0))
    found = with_gist(items, words.split(), gist)
    assert [p.gist != () for p in found if isinstance(p, Phrase)] == [True] * len(items)
    assert all(min(p.gist) >= LEAST for p in found if isinstance(p, Phrase))
    assert with_gist(items, words.split(), None) == items
    text = text_of(words.split(), items)
    assert "".join(text.tokens) == words.lower().replace(" ", "")


def test_a_talk_without_words_is_no_trouble() -> None:
    gist = parse_gist(to_bytes(learning._new(talks(2), np.random.default_rng(0))))
    assert with_gist([], [], gist) == []


def test_examples_are_given_the_guesses_of_another_network() -> None:
    told = Example(([("none", 1.0)], [("fill:likely", 0.5)]), (0,))
    asked = Example(([("none", 1.0), ("gist:none", 0.0)], [("gist:here", 0.0), ("gist:fill", 0.0)]), (1,))
    odds = {"none": 0.1, "here": 0.5, "parent": 0.05, "line": 0.05, "tip": 0.04, "far": 0.04, "again": 0.02}
    odds = {**odds, "fill": 0.15, "return": 0.05}
    row = np.log(np.array([[1 / len(KINDS)] * len(KINDS), [odds[kind] for kind in KINDS]], np.float32))
    packed = with_odds(pack([told, asked]), row)
    values = dict(zip([packed.names[c] for c in packed.columns], packed.values, strict=True))
    assert values["fill:likely"] == 0.5
    for kind in ("none", "here", "fill"):
        assert values[f"gist:{kind}"] == pytest.approx(gist_value([float(x) for x in row[1]], kind))
    assert values["gist:here"] == pytest.approx(np.log(0.65), abs=1e-5), "a fill is told where the talk stands, too"
    jumps = [float(x) for x in row[1]]
    assert gist_value(jumps, "jump") == pytest.approx(np.log(sum(odds[jump] for jump in JUMPS)), abs=1e-5)
    assert gist_value(jumps, "tip") == pytest.approx(np.log(0.04 / 0.2), abs=1e-5), "only which jump it is"
