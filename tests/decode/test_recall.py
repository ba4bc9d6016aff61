"""What is remembered, or never worked out, changes no answer."""

from __future__ import annotations

import random
from dataclasses import replace

import chess
import pytest

from lesson.decode import Reader, Width
from lesson.decode import recall as recall_module
from lesson.decode.actions import Actor
from lesson.decode.beam import Beam, Track
from lesson.decode.fit import _known
from lesson.decode.position import Position, Tree
from lesson.decode.weights import load_weights
from lesson.hear import hear_talk
from lesson.hear.sounds import load_sounds
from lesson.model import Fact
from lesson.read import read_talk
from tests.accuracy.gold import SAMPLES

NARROW = Width(states=6, per_cursor=2)


def by_library(text: str, board: chess.Board) -> list[str]:
    """The legal move that `text` names, as chess.Board.parse_san has it, else as its UCI."""
    try:
        return [board.parse_san(text).uci()]
    except ValueError:
        return [text] if text in [move.uci() for move in board.legal_moves] else []


def boards(chance: random.Random) -> list[chess.Board]:
    out = []
    for _ in range(12):
        board = chess.Board()
        for _ in range(chance.randrange(4, 90)):
            if moves := list(board.legal_moves):
                board.push(chance.choice(moves))
        out.append(board.copy(stack=False))
    promoting = chess.Board("3r2k1/4P3/8/2pP4/8/8/8/R3K2R w KQ c6 0 30")
    return [*out, promoting, chess.Board("4k3/8/8/8/2N5/8/2N5/4K3 w - - 0 1")]


def test_a_move_given_as_a_fact_is_found_as_the_rules_library_finds_it() -> None:
    """Standard algebraic notation, with and without its suffixes, long and UCI; of other positions as well."""
    chance = random.Random(3)
    here = boards(chance)
    texts = {"O-O", "O-O-O", "e8=Q", "e8N", "exd8=R+", "dxc6", "Nd3", "N2d4", "Kg1", "nonsense", "e9"}
    for board in here:
        for move in board.legal_moves:
            texts |= {board.san(move), board.san(move).rstrip("+#"), board.lan(move), move.uci()}
    found = 0
    for board in here:
        own = [board.san(move) for move in board.legal_moves]
        for text in [*chance.sample(sorted(texts), 150), *own]:
            named = [choice.uci for choice in _known(text, Position(board))]
            assert named == by_library(text, board), (text, board.fen())
            found += bool(named)
    assert found > 200


def test_a_memory_too_full_is_let_go_and_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    talk = read_talk(SAMPLES / "club-game" / "heard-b.json")
    talk = replace(talk, words=talk.words[:300], cues=())
    keeps, forgets = Reader(width=NARROW), Reader(width=NARROW)
    first = keeps.read(talk)
    event = next(e for e in first.events if e.act == "play" and e.first < e.last)
    fact = [Fact(event.first, event.last, "talk")]
    with monkeypatch.context() as patched:
        patched.setattr(recall_module, "_MOST_KEPT", 0)
        assert forgets.read(talk) == first
        told = forgets.read(talk, fact), forgets.read(talk)
    assert (keeps.read(talk, fact), keeps.read(talk)) == told
    assert told[1] == first != told[0]


def test_a_search_that_keeps_nothing_finds_what_one_that_keeps_all_does() -> None:
    talk = read_talk(SAMPLES / "king-and-rook-endings" / "captions.vtt")
    items = hear_talk(replace(talk, words=talk.words[:300], cues=()), load_sounds())
    answers = []
    for track in (None, Track()):
        tree = Tree()
        best, sure = Beam(tree, Actor(tree, load_weights()), NARROW).run(items, track)
        answers.append((best.score, tree.path(best.cursor), sure))
    assert answers[0] == answers[1]
    assert len(answers[0][2]) == len(items) > 20
