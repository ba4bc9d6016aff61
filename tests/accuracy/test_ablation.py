"""The decoder without one of its parts still decodes, and what is taken out is really gone."""

from __future__ import annotations

import pytest

from lesson.decode.beam import Width
from lesson.decode.weights import load_weights
from lesson.hear.sounds import load_sounds
from tests.accuracy.ablation import WITHOUT, ablated
from tests.accuracy.gold import SAMPLES
from tests.accuracy.study import Study
from tests.decode.test_decode import talk_of

TEXT = "E4, e5, knight f3, knight c6, bishop b5. Instead bishop c4 is the Italian, and now before, no, bishop c5."


@pytest.mark.parametrize("system", WITHOUT)
def test_every_part_can_be_taken_out(system: str) -> None:
    whole = load_weights(), load_sounds(), Width()
    weights, sounds, width = WITHOUT[system](whole)
    same = (
        weights.table == whole[0].table,
        weights.gist is whole[0].gist,
        sounds == whole[1],
        width == whole[2],
    )
    assert not all(same)
    decoded = ablated(lambda _: whole[:2])[system]("any talk")(talk_of(TEXT))
    assert "e4" in [node.san for node in decoded.nodes]


def test_the_study_shows_them_beside_the_whole() -> None:
    systems = ablated(lambda _: (load_weights(), load_sounds()))
    folder = SAMPLES / "opening-traps"
    results = Study([folder], ["exact"], {"set by hand": systems["set by hand"]}, lambda _: talk_of(TEXT)).run()
    assert [(r.system, r.failure) for r in results] == [("set by hand", "")]
