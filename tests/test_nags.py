"""Verdict words reach the move they are about as NAGs, and no other."""

from __future__ import annotations

from pathlib import Path

import chess.pgn
import pytest
from hypothesis import HealthCheck, given, settings

from lesson.assemble import assemble
from lesson.hear.verdicts import find_verdicts
from lesson.model import Act, Decoded, Event, Lesson, Node, Talk
from lesson.settings import ASK_BELOW
from lesson.write import PgnOptions, write_files
from tests.decoded import told
from tests.write.made import lesson_of, said, tree_of

NODES = tree_of("e4 e5 Nf3 Nc6", "e4 c5")

ACTS: dict[str, Act] = {"": "play", "=": "retell", "?": "mention", "<": "return"}


def telling(text: str, nodes: tuple[Node, ...] = NODES, unsure: str = "") -> Lesson:
    """The lesson of a text in which `[e5]` is a move played, `[=e5]` one told again, `[?e5]` one merely mentioned and
    `[<e5]` a return to it; moves are named by the tree's SAN, `unsure` one that is flagged."""
    ids = {node.san: node.id for node in nodes}
    plain: list[str] = []
    events: list[Event] = []
    for word in text.split():
        core = word.rstrip(".,?")
        if core.startswith("[") and core.endswith("]"):
            mark, san = (core[1], core[2:-1]) if core[1] in "=?<" else ("", core[1:-1])
            act = ACTS[mark]
            uci = nodes[ids[san]].uci if mark != "<" else ""
            at = nodes[ids[san]].parent if mark == "?" else ids[san]
            confidence = ASK_BELOW - 0.1 if san == unsure else 1.0
            first = len(plain)
            events.append(Event(act, first, first + 1, at, uci, san, confidence=confidence))
            word = san + word[len(core) :]
        plain.append(word)
    return lesson_of(said(" ".join(plain)), nodes, tuple(events))


def nags(lesson: Lesson) -> dict[str, tuple[int, ...]]:
    return {move.san: move.nags for chapter in lesson.chapters for move in chapter.moves if move.nags}


REST = " [Nf3] [Nc6] [<e4] [c5]"
CASES = [
    # a move
    ("[e4] [e5] that's a mistake." + REST, {"e5": (2,)}),
    ("[e4] [e5], and we go home. That was a blunder." + REST, {"e5": (4,)}),
    ("[e4] [e5], and we go home. It rains. That was a blunder." + REST, {}),
    ("[e4] [e5], a dubious move, and then" + REST, {"e5": (6,)}),
    ("[e4] is the only move. [e5]" + REST, {"e4": (8,)}),
    ("[e4] The mistake was [e5]" + REST, {"e5": (2,)}),
    ("[e4] A blunder like [?e5] I do not play. [e5]" + REST, {}),
    ("[e4] [?e5] is a mistake. [e5]" + REST, {}),
    ("[e4] [e5] [Nf3] [Nc6] [<e4] that's a mistake. [c5]", {}),
    ("[e4] [e5] [Nf3] [Nc6] [<e4] [=e5] that's a mistake. [<e4] [c5]", {"e5": (2,)}),
    ("[e4] the plan is a mistake. [e5]" + REST, {}),
    # a position
    ("[e4] [e5] White is better." + REST, {"e5": (16,)}),
    ("[e4] [e5], and this is roughly equal." + REST, {"e5": (10,)}),
    ("[e4] [e5] [Nf3] [Nc6] [<e4] White is better. [c5]", {}),
    ("[e4] [e5] [Nf3] [Nc6] [<e4] In this position White is better. [c5]", {"e4": (16,)}),
    ("White is better. [e4] [e5]" + REST, {}),
    ("[e4] [e5], not [?Nf3] and White is better." + REST, {}),
    ("[e4] If [e5], White is better." + REST, {"e5": (16,)}),
    ("[e4] [e5] If he sleeps, White is better." + REST, {}),
    ("[e4] [e5] One. Two. Three. White is better." + REST, {}),
    # several
    ("[e4] [e5] is a mistake, and White is winning." + REST, {"e5": (2, 18)}),
    ("[e4] [e5] White is better. White is winning." + REST, {"e5": (18,)}),
    ("[e4] [e5] that's a mistake." + REST + " [=e5] that's a blunder.", {"e5": (4,)}),
    ("[e4] [e5] that's a mistake." + REST + " [=e5] that's a good move.", {}),
    ("[e4] [e5] White has the initiative, and White is slightly better." + REST, {"e5": (14, 36)}),
]


@pytest.mark.parametrize(("text", "expected"), CASES, ids=[text for text, _ in CASES])
def test_a_verdict_goes_to_what_it_is_about(text: str, expected: dict[str, tuple[int, ...]]) -> None:
    lesson = telling(text)
    assert find_verdicts([word.text for word in lesson.words]), "the case must turn on the place, not on the words"
    assert nags(lesson) == expected


def test_an_unsure_move_carries_no_verdict() -> None:
    assert nags(telling("[e4] [e5] that's a mistake." + REST, unsure="e5")) == {}


def test_a_move_nobody_said_takes_no_verdict() -> None:
    nodes = tree_of("e4 e5")
    events = (
        Event("play", 0, 1, 1, "e2e4", "e4"),
        Event("play", 1, 1, 2, "e7e5", "e5", origin="inferred", confidence=1.0),
    )
    assert nags(lesson_of(said("e4 so that's a mistake."), nodes, events)) == {}


def test_captions_without_stops_keep_verdicts_near_their_move() -> None:
    assert nags(telling("[e4] [e5] and that's a mistake because of knights" + REST)) == {"e5": (2,)}
    far = " ".join(["and we talk about the weather"] * 5)
    assert nags(telling(f"[e4] [e5] {far} and that's a mistake because of rain" + REST)) == {}


def test_the_written_study_reads_back_with_the_numbers(tmp_path: Path) -> None:
    lesson = telling("[e4] [e5] is a mistake, and White is winning." + REST)
    files = write_files(lesson, "study", tmp_path, PgnOptions())
    pgn = next(file for file in files if file.suffix == ".pgn")
    with pgn.open(encoding="utf-8") as text:
        game = chess.pgn.read_game(text)
    assert game is not None
    assert not game.errors
    after = game.variation(0).variation(0)
    assert (after.san(), after.nags) == ("e5", {chess.pgn.NAG_MISTAKE, chess.pgn.NAG_WHITE_DECISIVE_ADVANTAGE})


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(told())
def test_numbers_ascend_and_no_unsure_move_has_one(pair: tuple[Talk, Decoded]) -> None:
    for chapter in assemble(*pair).chapters:
        for move in chapter.moves:
            assert list(move.nags) == sorted(set(move.nags))
            assert not (move.nags and move.flagged)
