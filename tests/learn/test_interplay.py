"""What features say together: it is learned where no weight could tell, repeats itself, is read back and added up."""

from __future__ import annotations

from pathlib import Path

import chess
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.decode.actions import Actor
from lesson.decode.fit import Features
from lesson.decode.interplay import Interplay, Together, parse_interplay, read_interplay, to_bytes
from lesson.decode.position import Tree
from lesson.decode.thread import State
from lesson.decode.weights import Weights, load_weights
from lesson.errors import DataError
from lesson.hear import hear_talk
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import load_sounds
from lesson.learn import interplay as learning
from lesson.learn.forced import Example
from lesson.learn.interplay import learn_interplay
from lesson.learn.optimise import Data, fit_weights, pack
from tests.decode.test_decode import talk_of


def either(count: int) -> list[Example]:
    """Made-up phrases that are a move where exactly one of two things is heard: no sum of weights can tell."""
    chance = np.random.default_rng(5)
    out = []
    for _ in range(count):
        heard = [name for name in ("a stop", "a name") if chance.random() < 0.5]
        said: Features = [("move", 1.0), *((name, 1.0) for name in heard)]
        out.append(Example(([("none", 1.0)], said), (int(len(heard) == 1),)))
    return out


def data(count: int = 60) -> Data:
    return Data([pack(either(count)) for _ in range(3)])


def layer(seed: int = 1, units: int = 4) -> Interplay:
    chance = np.random.default_rng(seed)
    rows, bias, out = (chance.standard_normal(s).astype(np.float32) for s in ((3, units), (units,), (units,)))
    return Interplay({"a": 0, "b": 1, "c": 2}, rows, bias, out)


def test_it_learns_what_no_weight_of_a_single_feature_can_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    small = {"ROUNDS": 100, "BATCH": 32, "RATE": 0.02, "PRIOR": 0.01, "UNITS": 16, "_SPREAD": 0.5}
    for name, value in {**small, "UNITS_DROPPED": 0.0, "FEATURES_DROPPED": 0.0}.items():
        monkeypatch.setattr(learning, name, value)
    learned = data()
    weights = fit_weights(learned)
    found = learn_interplay(learned, weights)
    table = dict(zip(learned.names, map(float, weights), strict=True))
    for heard in ((), ("a stop",), ("a name",), ("a stop", "a name")):
        nothing: Features = [("none", 1.0)]
        said: Features = [("move", 1.0), *((name, 1.0) for name in heard)]
        alone = Weights(table)(said) - Weights(table)(nothing)
        more = Together(found).corrections([(said,), (nothing,)])
        together = alone + more[0] - more[1]
        assert abs(alone) < 1.0, "the weights alone are at a loss"
        assert (together > 2.0) if len(heard) == 1 else (together < -2.0)


def test_the_same_examples_give_the_same_layer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "ROUNDS", 2)
    learned = data()
    weights = fit_weights(learned)
    assert to_bytes(learn_interplay(learned, weights)) == to_bytes(learn_interplay(learned, weights))
    assert to_bytes(learn_interplay(learned, weights)) != to_bytes(learn_interplay(learned, weights, {1}))


def test_the_slope_is_that_of_the_likelihood(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "UNITS", 3)
    matrix, right, of = data(4).subset(())
    chance = np.random.default_rng(2)
    shapes = {"rows": (matrix.shape[1], 3), "bias": (3,), "out": (3,)}
    arrays = {name: chance.standard_normal(shape) for name, shape in shapes.items()}
    base = chance.standard_normal(len(of))

    def loss() -> float:
        scores = base + np.maximum(matrix @ arrays["rows"] + arrays["bias"], 0.0) @ arrays["out"]
        per = [scores[of == k] for k in range(of[-1] + 1)]
        good = [scores[(of == k) & right] for k in range(of[-1] + 1)]
        return float(np.mean([np.logaddexp.reduce(p) - np.logaddexp.reduce(g) for p, g in zip(per, good, strict=True)]))

    found = learning.slope(arrays, matrix, base, right, of, None)
    for name, array in arrays.items():
        for place in np.ndindex(array.shape):
            at, before = 1e-5, array[place]
            array[place] = before + at
            up = loss()
            array[place] = before - at
            down = loss()
            array[place] = before
            assert found[name][place] == pytest.approx((up - down) / (2 * at), abs=1e-5), name


part = st.lists(st.tuples(st.sampled_from(["a", "b", "c", "unknown"]), st.floats(-3, 3)), max_size=4)


@given(st.lists(st.lists(part, max_size=4), min_size=1, max_size=5), st.integers(0, 9))
def test_parts_add_up_to_the_whole(actions: list[list[Features]], seed: int) -> None:
    found = layer(seed)
    together = Together(found)
    assert together.corrections(actions) == together.corrections(actions)
    ones = [together.correction(parts) for parts in actions]
    assert ones == pytest.approx(together.corrections(actions), abs=1e-3)
    for parts, value in zip(actions, together.corrections(actions), strict=True):
        hidden = found.bias.astype(float)
        for name, x in (feature for features in parts for feature in features):
            hidden = hidden + x * found.rows[found.numbers[name]] if name in found.numbers else hidden
        assert value == pytest.approx(float(np.maximum(hidden, 0) @ found.out), abs=1e-3)


def test_a_list_made_and_lost_is_never_taken_for_another() -> None:
    together = Together(layer())
    for k in range(200):  # more than the table begins with; a lost list's place in memory is soon given to the next
        value = together.corrections([([("a", float(k))],)])[0]
        assert value == pytest.approx(Together(layer()).corrections([([("a", float(k))],)])[0])


def test_a_layer_is_read_back_and_a_broken_one_is_told_of(tmp_path: Path) -> None:
    path = tmp_path / "interplay.npz"
    path.write_bytes(to_bytes(layer()))
    back = read_interplay(path)
    assert back is not None
    assert back.numbers == layer().numbers
    assert np.allclose(back.rows, layer().rows, atol=0.01)
    assert read_interplay(tmp_path / "none.npz") is None
    whole = layer()
    short = to_bytes(Interplay(whole.numbers, whole.rows[:2], whole.bias, whole.out))
    for broken in (b"", b"PK", to_bytes(whole)[:100], short):
        path.write_bytes(broken)
        with pytest.raises(DataError, match=r"not a layer of weights .*lesson\.learn"):
            read_interplay(path)
    with pytest.raises(ValueError, match="sizes"):
        parse_interplay(short)


def test_it_is_added_to_the_score_of_every_action() -> None:
    items = hear_talk(talk_of("knight f3."), load_sounds())
    shipped = load_weights()
    found = Interplay({"piece+": 0}, np.ones((1, 1), np.float32), np.zeros(1, np.float32), np.full(1, 2.5, np.float32))
    scores = []
    for weights in (Weights(shipped.table), Weights(shipped.table, interplay=found)):
        tree = Tree()
        root = tree.add_root(chess.Board())
        assert isinstance(items[0], Phrase)
        actions = Actor(tree, weights).actions(0, items[0], State(1, root, (root,), main=1))
        scores.append({(a.kind, *(c.uci for c in a.moves)): a.score for a in actions})
    assert scores[1]["play", "g1f3"] == pytest.approx(scores[0]["play", "g1f3"] + 2.5)
    assert scores[1]["none",] == scores[0]["none",]
