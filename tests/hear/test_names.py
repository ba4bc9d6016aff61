"""Opening names heard in words: the examples of the grammar file, and what a talk must not turn into names."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.data import data_path
from lesson.hear.names import LONGEST_WINDOW, find_names

GRAMMAR = tomllib.loads(data_path("grammars/en-openings.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("group", GRAMMAR["group"], ids=lambda g: g["needs"] or "alone")
def test_examples_of_the_grammar(group: dict[str, list[str]]) -> None:
    assert group["why"]
    for text in group["says"]:
        assert find_names(text.split()), text
    for text in group["not"]:
        assert not find_names(text.split()), text


@pytest.mark.parametrize("group", GRAMMAR["group"], ids=lambda g: g["needs"] or "alone")
def test_every_written_name_is_heard_in_a_sentence(group: dict[str, Any]) -> None:
    for text in group["names"]:
        said = f"so against the {text} {'variation' if group['needs'] == 'suffix' else ''} we are fine".split()
        hits = find_names(said)
        assert hits, text
        assert hits[0].cost < 1, text
        assert hits[0].first <= 3, text


@pytest.mark.parametrize(
    ("text", "words", "span"),
    [
        ("and the near dwarf is sharp", "najdorf", (2, 4)),
        ("a caro can, then", "caro kann", (1, 3)),
        ("is the nim so indian defence now", "nimzo indian", (2, 6)),
        ("we meet the Slav.", "slav", (3, 4)),
        ("the Queen's Gambit, except that", "queen's gambit", (1, 3)),
        ("it is the open Spanish here", "open spanish", (3, 5)),
        ("exchange Slav", "exchange slav", (0, 2)),
        ("the Grünfeld defence", "grunfeld", (1, 3)),
        ("the English attack comes", "english attack", (1, 3)),
    ],
)
def test_misheard_names(text: str, words: str, span: tuple[int, int]) -> None:
    (hit,) = find_names(text.split())
    assert (hit.name.words, (hit.first, hit.last)) == (tuple(words.split()), span)


def test_a_name_of_several_openings_gives_them_all() -> None:
    (hit,) = find_names(["the", "exchange", "variation"])
    assert len(hit.names) >= 5
    assert {n.words for n in hit.names} == {("exchange",)}
    (tarrasch,) = find_names(["then", "comes", "the", "Tarrasch"])
    assert {n.moves[:2] for n in tarrasch.names} == {("d2d4", "d7d5"), ("e2e4", "e7e6")}


@pytest.mark.parametrize(
    "text",
    [
        "and then slow down, the slow way is the best way",
        "he puts a rook on e4 and the king can go to g8, which has never been so easy",
        "white is the exchange up and has two open lines for the rooks, and a minority attack",
        "the friends met in vienna and spoke french, then italian",
        "that pawn is a goner, cut off from the king, and then offers itself",
        "four knights were sold, and two knights stayed in the box",
        "we went from london to berlin and drank scotch",
    ],
)
def test_everyday_words_are_no_names(text: str) -> None:
    assert find_names(text.split()) == []


WORDS = (
    "the",
    "a",
    "near",
    "dwarf",
    "caro",
    "can",
    "slav,",
    "in",
    "7",
    "nim",
    "so",
    ".",
    "indian",
    "—",
    "exchange",
    "variation",
)


@given(st.lists(st.sampled_from(WORDS)))
def test_hits_lie_in_the_words_in_order_and_apart(words: list[str]) -> None:
    end = 0
    for hit in find_names(words):
        assert end <= hit.first < hit.last <= len(words)
        assert hit.last - hit.first <= LONGEST_WINDOW + 1
        assert hit.cost >= 0
        assert hit.name in hit.names
        end = hit.last
    assert find_names(words) == find_names(words)


def test_nothing_said() -> None:
    assert find_names([]) == []
    assert find_names(["—", "", "..."]) == []
