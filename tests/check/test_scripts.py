"""The corpus of scripts: planted faults are found where they stand, and the same scripts without them are clean."""

from __future__ import annotations

from functools import cache

import pytest

from lesson.check.fault import ENGINE_KINDS, KINDS, Fault
from lesson.check.places import Spot, places
from lesson.check.script import examined
from lesson.read import read_text
from tests.check.scripts import Script, scripts

CORPUS = scripts()
SIXTH = CORPUS[::6]
# Two readings of some three hundred scripts take minutes.
parts = pytest.mark.parametrize(
    "corpus",
    [
        pytest.param(SIXTH, id="a sixth"),
        pytest.param([script for script in CORPUS if script not in SIXTH], id="the rest", marks=pytest.mark.every),
    ],
)
WHYS = {"check-unanswered": "in check", "wrong-side": "wrong side", "into-check": "into check"}


@cache
def read(text: str) -> tuple[int, tuple[tuple[Fault, Spot], ...]]:
    """How many moves a script tells, and its faults with their places."""
    talk = read_text(text.encode(), "script.txt")
    spots = places(text, [word.text for word in talk.words])
    decoded, found = examined(talk)
    return sum(e.act in ("play", "retell") for e in decoded.events), tuple((f, spots[f.first]) for f in found)


def checked(text: str) -> tuple[tuple[Fault, Spot], ...]:
    return read(text)[1]


def is_found(script: Script) -> bool:
    """Whether the planted fault is reported in its line, for its reason."""
    why = WHYS.get(script.why, script.why)
    return any(
        fault.kind == script.kind and spot.line in script.lines and (script.kind != "illegal" or fault.why == why)
        for fault, spot in checked(script.faulty)
    )


def test_the_corpus_has_every_kind_in_several_ways() -> None:
    kinds = [script.kind for script in CORPUS]
    assert len(CORPUS) >= 60
    assert {kind for kind in KINDS if kinds.count(kind) >= 3} == set(KINDS) - ENGINE_KINDS
    whys = [script.why for script in CORPUS if script.kind == "illegal"]
    assert {"blocked", "pinned", "occupied", "check-unanswered", "wrong-side"} <= {w for w in whys if whys.count(w) > 2}


@parts
def test_planted_faults_are_found(corpus: list[Script]) -> None:
    missed = [script.name for script in corpus if not is_found(script)]
    assert len(missed) <= 0.05 * len(corpus), missed


@parts
def test_scripts_without_a_fault_are_left_alone(corpus: list[Script]) -> None:
    moves, alarms = 0, []
    for script in corpus:
        moves += read(script.clean)[0]
        alarms += [(script.name, fault.message) for fault, _ in checked(script.clean) if fault.severity == "error"]
    assert moves >= 4 * len(corpus)
    assert len(alarms) <= 0.02 * moves, alarms


@parts
def test_what_follows_from_a_fault_is_not_reported(corpus: list[Script]) -> None:
    errors = {script.name: sum(f.severity == "error" for f, _ in checked(script.faulty)) for script in corpus}
    assert sum(count > 1 for count in errors.values()) <= 0.03 * len(corpus), errors


@pytest.mark.parametrize(
    ("text", "kind", "why", "says"),
    [
        ("e4, e5, knight f3, f6, knight takes e5, f takes e5, queen h5 check. Black answers knight f6.",
         "illegal", "in check", "after 4. Qh5+"),
        ("e4, e5, knight f3, knight c6, bishop b5, d6, d4. Black answers knight takes d4.",
         "illegal", "pinned", "pinned by the bishop on b5"),
        ("1. e4 e5 2. Nf3 Nc6 3. Bb5 d6 4. d4 Nxd4", "illegal", "pinned", "pinned by the bishop on b5"),
        ("e4, e5, knight f3, bishop b5, a6, bishop a4.", "skipped", "", "Black's, perhaps"),
        ("White: king d4, rook h1, pawn g3. Black: king d7, rook a5, pawns e6, f6. Black to move. E5 check. "
         "White plays rook h7 check, king e6, rook h8.",
         "illegal", "in check", "still in check from the pawn on e5"),
        ("e4, e5, f4, e takes f4, bishop c4, queen h4 check. The king must move: king f2, g5, knight f3.",
         "illegal", "into check", "the queen on h4 guards f2"),
        ("e4, e5, knight f3, d6, bishop b5 check, knight c6, d4. The knight snaps off the pawn on d4, castles.",
         "illegal", "pinned", "pinned by the bishop on b5"),
        ("d4, e6, c4, bishop b4 check. White shrugs and plays e4, knight f6.", "illegal", "in check", "still in check"),
    ],
)  # fmt: skip
def test_a_message_holds_the_words_the_position_and_what_is_legal(text: str, kind: str, why: str, says: str) -> None:
    fault = next(fault for fault, _ in checked(text) if fault.kind == kind)
    assert fault.why == why
    assert says in fault.message
    assert fault.message.count('"') == 2
    assert fault.fen
    assert fault.nearest


@pytest.mark.parametrize(
    "text",
    [
        "1. d4 d5 2. c4 e6 3. Nc3 Bb4 4. Nf3 Nf6 5. cxd5 exd5 6. Bg5 h6 7. Bh4 c5, unclear.",
        "Pawn to d4, and he replies pawn to d5. Bishop to f4, knight to f6, pawn to e3, pawn to e6. Equal.",
        "White: king h1, rook b5, pawn h2. Black: king g7, pawn h7. White to move. Rook b7 check. Black takes his "
        "time: king f8, rook b8 check. White is winning.",
        "e4, e5, knight f3, f6, knight takes e5, f takes e5, queen h5 check. Knight c6 would be illegal of "
        "course. King e7.",
    ],
)
def test_what_the_decoder_leaves_out_though_it_can_be_played_is_no_fault(text: str) -> None:
    assert [fault.message for fault, _ in checked(text) if fault.severity == "error"] == []


def test_numbers_that_run_ahead_miss_a_move_and_numbers_that_begin_late_do_not() -> None:
    gap = [fault for fault, _ in checked("1. d4 d5 2. c4 c6 3. Nf3 Nf6 5. e3 Bf5 6. Nc3 e6 and it is equal.")]
    assert [(fault.kind, fault.message) for fault in gap] == [("skipped", "1 move is missing before move 5")]
    start = "White: king g1, rook a1, pawn g2. Black: king g8, pawn g7. White to move."
    late = f"{start} 41. Ra8+ Kh7 42. g3 and White is winning."
    assert not any(fault.kind == "skipped" for fault, _ in checked(late))
