"""Learning: forced alignment gives right actions, the fit explains them better than chance, and is repeatable."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lesson.hear import hear_talk
from lesson.hear.sounds import load_sounds
from lesson.learn.counts import count_sounds
from lesson.learn.forced import Example, Forced
from lesson.learn.marked import Marked, load_marked
from lesson.learn.optimise import Data, fit_weights

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def _marked(name: str, version: str) -> Marked:
    return next(load_marked(SAMPLES / name, [version]))


@pytest.fixture(scope="module")
def examples() -> list[list[Example]]:
    out = []
    for name in ("opening-traps", "poisoned-pawn"):
        marked = _marked(name, "exact")
        out.append(Forced(marked, hear_talk(marked.talk, load_sounds())).run())
    return out


def test_almost_every_phrase_has_a_right_action_among_the_candidates(examples: list[list[Example]]) -> None:
    for group in examples:
        assert len(group) > 100
        for example in group:
            assert example.right
            assert all(0 <= k < len(example.candidates) for k in example.right)


def test_the_fit_prefers_the_right_actions_and_is_repeatable(examples: list[list[Example]]) -> None:
    data = Data(examples, least=1)
    weights = fit_weights(data, iterations=30)
    assert np.array_equal(weights, fit_weights(data, iterations=30))
    scores = data.matrix @ weights
    hits = [data.right[a + int(np.argmax(scores[a:b]))] for a, b in zip(data.starts, data.ends, strict=True)]
    first = [bool(data.right[a]) for a in data.starts]
    assert np.mean(hits) > max(0.85, float(np.mean(first)))


def test_confusions_are_counted_from_the_words_themselves() -> None:
    sounds = count_sounds([_marked("club-game", "heard-a")])
    assert max(sounds.letters["f"], key=sounds.letters["f"].__getitem__) == "f"
    assert sounds.before["night"]["N"] >= 3
