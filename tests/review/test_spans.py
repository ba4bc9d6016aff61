"""The HTML of words and moves: every mark said to eyes and ears, every text escaped."""

from __future__ import annotations

from typing import get_args
from xml.etree import ElementTree

import pytest

from lesson.review.shown import Mark, Spot, Stretch
from lesson.review.spans import Paragraph, Piece, Row, Step

HOSTILE = """<script>"a" & 'b'</script> {} {0}"""


def element(html: str) -> ElementTree.Element:
    return ElementTree.fromstring(f"<p>{html}</p>")[0]


@pytest.mark.parametrize("mark", get_args(Mark))
def test_words_are_one_element_that_holds_their_text_as_it_is(mark: Mark) -> None:
    stretch = Stretch(3, 5, HOSTILE, mark, "m1", HOSTILE, "", mark == "settled", 10, 20)
    made = element(Paragraph("", pieces=[Piece(stretch, 3, 5, HOSTILE, changed=mark == "played", focus=True)]).html)
    assert (made.get("data-first"), made.get("data-last"), made.get("data-spot")) == ("3", "5", "m1")
    assert (made.get("data-start"), made.get("data-end")) == ("10", "20")
    assert made.text == HOSTILE
    if mark == "plain":
        assert (made.get("role"), len(made)) == (None, 0)
        return
    assert (made.get("role"), made.get("tabindex"), made.get("id")) == ("button", "0", "s3-5-m1")
    assert mark in str(made.get("class")).split()
    assert ("changed" in str(made.get("class"))) == ("changed" in str(made[0].text)) == (mark == "played")
    assert ("answered" in str(made.get("class"))) == ("answered" in str(made[0].text)) == (mark == "settled")
    shown = HOSTILE in str(made[1].text)
    assert shown == (mark not in ("position", "open", "settled"))


@pytest.mark.parametrize(("flagged", "said"), [(False, True), (True, True), (False, False), (True, False)])
def test_a_move_says_whether_it_is_sure_and_was_said(flagged: bool, said: bool) -> None:
    spot = Spot("m7", 0, "m6", None, "", (), "4. Nf3")
    made = element(Row(0, [Step(spot, HOSTILE, (8, 9 if said else 8), said, flagged)]).html)
    assert (made.tag, made.get("id"), made.get("data-spot"), made.text) == ("button", "tm7", "m7", HOSTILE)
    text = "".join(made.itertext())
    assert ("not sure" in text) == flagged == ("flagged" in str(made.get("class")))
    assert ("nobody said it" in text) != said
    assert ("unsaid" in str(made.get("class"))) != said
