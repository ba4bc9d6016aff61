"""Learning: forced alignment gives right actions, the fit explains them better than chance, and is repeatable."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lesson.decode.confidence import line_confidence, step_confidence
from lesson.decode.weights import load_weights
from lesson.hear import hear_talk
from lesson.hear.sounds import load_sounds
from lesson.learn.counts import count_sounds
from lesson.learn.forced import Example, Forced
from lesson.learn.marked import Marked, load_marked
from lesson.learn.noisy import count_hearings, noisy
from lesson.learn.optimise import Data, fit_weights, pack, prior
from lesson.learn.trust import Trial, fit_trust
from lesson.learn.unsaid import moves_told

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def _marked(name: str, version: str) -> Marked:
    return next(load_marked(SAMPLES / name, [version]))


@pytest.fixture(scope="module")
def examples() -> list[list[Example]]:
    out = []
    for name in ("opening-traps", "poisoned-pawn"):
        marked = _marked(name, "exact")
        out.append(Forced(marked, hear_talk(marked.talk, load_sounds()), load_weights()).run())
    return out


def test_almost_every_phrase_has_a_right_action_among_the_candidates(examples: list[list[Example]]) -> None:
    for group in examples:
        assert len(group) > 100
        for example in group:
            assert example.right
            assert all(0 <= k < len(example.candidates) for k in example.right)


def test_the_fit_prefers_the_right_actions_and_is_repeatable(examples: list[list[Example]]) -> None:
    data = Data([pack(group) for group in examples], least=1)
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


def test_a_move_no_phrase_carries_is_learned_as_one_left_out() -> None:
    marked = _marked("opening-traps", "exact")
    lost = [k for k, m in enumerate(marked.marks) if m.act == "play" and m.san == "Nc6"][-1]
    first, last = marked.marks[lost].first, marked.marks[lost].last
    words = list(marked.talk.words)
    words[first:last] = [replace(word, text="whatever") for word in words[first:last]]
    deaf = replace(marked, talk=replace(marked.talk, words=tuple(words)))
    filled = [
        feature
        for example in Forced(deaf, hear_talk(deaf.talk, load_sounds()), load_weights()).run()
        for k in example.right
        for feature, _ in example.candidates[k]
        if feature == "fill"
    ]
    assert filled


def test_every_move_told_is_an_example_of_what_is_likely_unsaid() -> None:
    marked = _marked("opening-traps", "exact")
    told = moves_told(marked)
    assert len(told) > 40
    assert all(len(example.right) == 1 for example in told)
    data = Data([pack(told)], least=1)
    table = dict(zip(data.names, fit_weights(data, iterations=30), strict=True))
    assert table["f:again"] > 0 > table["f:book-"]


def test_a_talk_nobody_heard_is_misheard_like_others_and_the_same_each_time() -> None:
    source = _marked("club-game", "heard-a")
    hearings = count_hearings([source])
    folder = SAMPLES / "training" / "captain-on-board-three"
    made = noisy(folder, hearings, "heard-a")
    assert made.talk.words == noisy(folder, hearings, "heard-a").talk.words
    heard, true = [w.text for w in made.talk.words], made.true_words
    odd = {w.lower() for w in heard} - {w.lower() for w in true}
    assert 5 < len(odd) < len(true) / 4
    assert all(0 <= a <= b <= len(heard) for a, b in made.ranges)
    assert [a for a, _ in made.ranges] == sorted(a for a, _ in made.ranges)
    assert {m.act for m in made.marks} == {m.act for m in next(load_marked(folder, ["exact"])).marks}
    captions = noisy(folder, hearings, "captions")
    assert all(w.text == w.text.lower() and not set(w.text) & set(".,;:!?") for w in captions.talk.words)


def test_features_that_are_many_of_a_kind_are_held_closer_to_nought() -> None:
    assert prior("none|L1=never") > prior("at=line1&but") > prior("piece+") > 0


def test_a_line_of_sure_steps_is_learned_to_be_surer() -> None:
    sure, unsure = [("bias", 1.0), ("margin", 5.0)], [("bias", 1.0), ("margin", -5.0)]
    talk = [
        trial
        for n in range(0, 80, 2)
        for trial in (
            Trial(sure, 1.0, (n,), 0, True, True),
            Trial(unsure, 1.0, (n, n + 1), 0, n % 10 == 0, True),
        )
    ]
    table = fit_trust([talk])
    steps = [step_confidence(trial.evidence, table) for trial in talk]
    assert steps[0] > 0.9
    assert steps[1] < 0.4
    assert line_confidence(steps[:1], 0, table) > 0.8 > 0.5 > line_confidence(steps[:2], 0, table)
