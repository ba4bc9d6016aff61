"""How sure a line is, and what becomes of one that is not sure enough to be written."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from lesson.assemble import assemble
from lesson.decode import decode
from lesson.decode.confidence import line_confidence
from lesson.decode.weights import Weights, load_weights
from lesson.model import Cue, Decoded, Fact, Talk, Word
from lesson.settings import ASK_BELOW, FLAG_BELOW, WRITE_ABOVE

TEXT = "e4, e5, knight f3, knight c6, bishop b5, and the bishop on b5 is what all this is about."
TALK = Talk("ours", "text", tuple(Word(w) for w in TEXT.split()), (Cue(0, len(TEXT.split())),))


def _decoded(line: float, facts: tuple[Fact, ...] = ()) -> Decoded:
    """The talk read with a table that gives every line the same chance, in log odds."""
    shipped = load_weights()
    return decode(TALK, Weights(shipped.table, {**shipped.trust, "line": line, "line:doubt": 0.0}), facts=facts)


def test_what_is_not_written_is_below_what_is_flagged() -> None:
    assert 0 < WRITE_ABOVE < ASK_BELOW < FLAG_BELOW < 1


@given(st.lists(st.floats(1e-9, 1.0), min_size=1, max_size=12), st.floats(1e-9, 1.0), st.integers(0, 2))
def test_a_longer_line_is_never_surer(steps: list[float], more: float, noise: int) -> None:
    trust = load_weights().trust
    assert trust["line:doubt"] < 0
    assert line_confidence([*steps, more], noise, trust) <= line_confidence(steps, noise, trust) + 1e-12


def test_lines_sure_enough_are_written() -> None:
    assert [n.san for n in _decoded(5.0).nodes] == ["", "e4", "e5", "Nf3", "Nc6", "Bb5"]


def test_a_line_too_unsure_stays_text_with_one_question_where_it_begins() -> None:
    decoded = _decoded(-5.0)
    assert [n.san for n in decoded.nodes] == [""]
    asked = [e for e in decoded.events if e.reason]
    assert [(e.act, e.san, e.node) for e in asked] == [("talk", "e4", 0)]
    lesson = assemble(TALK, decoded)
    assert [w.text for w in lesson.words] == TEXT.split()
    assert [(q.text, q.candidates[0].san) for q in lesson.unresolved] == [("e4,", "e4")]
    assert {m.text for m in lesson.mentions} >= {"e5,", "knight f3,", "knight c6,", "bishop b5,"}


def test_what_a_person_says_is_written_however_unsure_the_line() -> None:
    words = TEXT.split()
    first = words.index("c6,") - 1
    fact = Fact(first, first + 2, "move", san="Nc6")
    assert [n.san for n in _decoded(-5.0, (fact,)).nodes] == ["", "e4", "e5", "Nf3", "Nc6"]
