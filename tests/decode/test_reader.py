"""What a talk read again becomes is what a first reading would make of it, byte for byte, and a glance is quick."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from lesson.corrections import Correction, Corrections, apply
from lesson.decode import Reader, Width, decode
from lesson.model import Decoded, Fact, Talk
from lesson.pipeline import Rereader
from lesson.read import read_talk
from tests.accuracy.gold import SAMPLES

WORDS = 300
NARROW = Width(states=6, per_cursor=2, roots=(20, 10, 5, 3, 1))
"""A quick search; what is asked here does not depend on how wide it is."""


def talk_of(sample: str) -> Talk:
    talk = read_talk(SAMPLES / sample)
    return replace(talk, words=talk.words[:WORDS], cues=())


def facts_of(talk: Talk, decoded: Decoded, chance: random.Random) -> list[Fact]:
    """What a teacher may say of words somewhere in the talk: a rival, the move as it stands, nothing, a return, words
    nobody took for a move, a new position."""
    told = [e for e in decoded.events if e.act in ("play", "retell") and e.first < e.last]
    here = chance.choice(told)
    path = []
    node = decoded.nodes[here.node]
    while node.parent >= 0:
        path.append(node.uci)
        node = decoded.nodes[node.parent]
    word = chance.randrange(len(talk.words))
    rival = here.rivals[0].san if here.rivals else here.san
    return [
        Fact(here.first, here.last, "move", rival),
        Fact(here.first, here.last, "move", here.san),
        Fact(here.first, here.last, "talk"),
        Fact(here.first, here.last, "mention"),
        Fact(here.first, here.last, "return", path=tuple(reversed(path[1:]))),
        Fact(word, word + 1, "move", "Nf3"),
        Fact(word, word + 1, "chapter", fen="4k3/8/4K3/4P3/8/8/8/8 w - - 0 1"),
    ]


@pytest.mark.parametrize("sample", ["club-game/heard-b.json", "king-and-rook-endings/captions.vtt"])
def test_a_talk_read_again_is_as_if_read_for_the_first_time(sample: str) -> None:
    """Seven answers one after the other, some taken back; a sample with dictated positions among them."""
    talk, chance = talk_of(sample), random.Random(7)
    reader = Reader(width=NARROW)
    decoded = reader.read(talk)
    given: list[Fact] = []
    for number in range(7):
        fact = facts_of(talk, decoded, chance)[number]
        given = [f for f in given if f.last <= fact.first or fact.last <= f.first] + [fact]
        if number == 4:
            given.pop(0)
        given.sort(key=lambda f: f.first)
        decoded = reader.read(talk, given)
        assert decoded == decode(talk, facts=given, width=NARROW)
    assert reader.read(talk) == decode(talk, width=NARROW)


def test_a_misheard_word_put_right_is_heard_anew() -> None:
    talk = talk_of("club-game/heard-b.json")
    reader = Reader(width=NARROW)
    reader.read(talk)
    words = tuple(replace(w, text="knight") if w.text.lower() == "night" else w for w in talk.words)
    changed = replace(talk, words=(*words[:200], replace(words[200], text="e4"), *words[201:]))
    assert reader.read(changed) == decode(changed, width=NARROW)


class Enough(Exception):
    """The reading is given up."""


def test_a_reading_given_up_is_gone_on_with_and_answers_fold() -> None:
    talk = talk_of("club-game/heard-b.json")
    reader = Reader(width=NARROW)
    told = [e for e in reader.read(talk).events if e.act == "play" and e.first < e.last]
    early, late = told[5], told[len(told) // 2]
    facts = [Fact(early.first, early.last, "talk")]
    far = talk.words[late.last :]

    def stop(word: int) -> None:
        if word > late.first:
            raise Enough

    assert far
    with pytest.raises(Enough):
        reader.read(talk, facts, stop)
    facts.append(Fact(late.first, late.last, "talk"))
    words: set[int] = set()
    again = reader.read(talk, facts, words.add)
    assert again == decode(talk, facts=facts, width=NARROW)
    assert min(words) > early.last  # what was read before it was given up is not read again
    with pytest.raises(Enough):
        reader.read(talk, [], stop)
    assert reader.read(talk, facts) == again


def test_what_nobody_changed_is_not_read_again() -> None:
    talk = talk_of("club-game/heard-b.json")
    reader = Reader(width=NARROW)
    told = [e for e in reader.read(talk).events if e.act == "play" and e.first < e.last]
    words: set[int] = set()
    reader.read(talk, [Fact(told[-1].first, told[-1].last, "talk")], words.add)
    assert words
    assert min(words) > len(talk.words) // 2
    words.clear()
    reader.read(talk, [Fact(told[-1].first, told[-1].last, "talk")], words.add)
    assert not words


def test_a_glance_is_sure_of_what_comes_before_and_says_how_far_it_looked() -> None:
    talk = talk_of("club-game/heard-b.json")
    reader = Reader(width=NARROW)
    assert reader.glance(talk) is None
    before = reader.read(talk)
    told = [e for e in before.events if e.act == "play" and e.first < e.last]
    for event in told[3 :: len(told) // 5]:
        facts = [Fact(event.first, event.last, "move", event.san)]
        found = reader.glance(talk, facts)
        assert found is not None
        assert event.last <= found.until <= len(talk.words)
        early = [(e.act, e.first, e.last, e.uci) for e in before.events if e.last < event.first]
        assert [(e.act, e.first, e.last, e.uci) for e in found.decoded.events][: max(0, len(early) - 3)] == early[:-3]
        played = [e for e in found.decoded.events if (e.first, e.last) == (event.first, event.last)]
        assert [e.san for e in played if e.act in ("play", "retell")] == [event.san]


def said(talk: Talk, text: str, kind: str, move: str = "") -> Corrections:
    first = [word.text for word in talk.words].index(text.split()[0])
    words = first, first + len(text.split())
    what = {"id": "c1", "kind": kind, "text": text, "words": words, "move": move}
    return Corrections(corrections=(Correction.model_validate(what),))


def test_lessons_made_again_have_the_same_bytes(tmp_path: Path) -> None:
    path = tmp_path / "talk.txt"
    path.write_text("We begin with e4, e5, knight f3, knight c6. Bishop c4, bishop c5, and then the pawn goes to b4.")
    talk = read_talk(path)
    rereader = Rereader()
    for corrections in (
        Corrections(),
        said(talk, "c4,", "talk"),
        said(talk, "b4.", "move", "b4"),
        Corrections(),
    ):
        again, fresh = rereader.lesson(talk, corrections), Rereader().lesson(talk, corrections)
        assert again[0].model_dump_json() == fresh[0].model_dump_json()
        assert again[1] == fresh[1]
        glimpse = rereader.glance(talk, corrections)
        assert glimpse is not None
        assert glimpse[0].model_dump_json() == fresh[0].model_dump_json()
        assert apply(talk, corrections).facts == fresh[1].facts
