"""The span score: on a small talk judged by hand, and on a sample with its true answer and with answers made wrong."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import chess
import pytest

from lesson.model import Act, Decoded, Event, Node, Talk, Word
from tests.accuracy.gold import SAMPLES, GoldTalk, Span, load_gold
from tests.accuracy.spans import heard_range, judge_spans, same_move

SAID = "We start e4 e5 then knight f3 hits e5. Back to e5, bishop c4 takes takes. From the start d4 of course"
E4, E5, NF3, BC4, D4 = "e2e4", "e7e5", "g1f3", "f1c4", "d2d4"
SPANS = (
    Span("play", (2, 3), "e4", 0, (E4,), how="said"),
    Span("play", (3, 4), "e5", 0, (E4, E5), how="said"),
    Span("play", (5, 7), "Nf3", 0, (E4, E5, NF3), how="said"),
    Span("mention", (7, 9), "Nxe5"),
    Span("return", (9, 12), "", 0, (E4, E5)),
    Span("play", (12, 14), "Bc4", 0, (E4, E5, BC4), how="said"),
    Span("return", (16, 19), "", 0, ()),
    Span("play", (19, 20), "d4", 0, (D4,), how="said"),
    Span("play", (20, 20), "d5", 0, (D4, "d7d5"), how="unspoken"),
)
GOLD = GoldTalk(
    "small", Path(), tuple(SAID.split()), SPANS, "1. e4 (1. d4 d5) e5 2. Nf3 (2. Bc4) *", (chess.STARTING_FEN,)
)
TALK = Talk("small", "text", tuple(Word(word) for word in SAID.split()), ())


def tree(*moves: tuple[int, str]) -> tuple[Node, ...]:
    """Nodes from (parent id, SAN); node 0 is the initial position."""
    nodes = [Node(0, 0, -1, "", "", chess.STARTING_FEN)]
    for parent, san in moves:
        board = chess.Board(nodes[parent].fen)
        uci = board.push_san(san).uci()
        nodes.append(Node(len(nodes), 0, parent, uci, san, board.fen()))
    return tuple(nodes)


NODES = tree((0, "e4"), (1, "e5"), (2, "Nf3"), (2, "Bc4"), (0, "d4"))


def play(first: int, last: int, node: int, nodes: tuple[Node, ...] = NODES) -> Event:
    return Event("play", first, last, node, nodes[node].uci, nodes[node].san)


PERFECT = (
    play(2, 3, 1),
    play(3, 4, 2),
    play(4, 7, 3),
    Event("mention", 7, 9, 3, "", "Nxe5"),
    Event("return", 9, 12, 2),
    play(12, 14, 4),
    Event("return", 16, 19, 0),
    play(19, 20, 5),
)


def wrong(*events: Event, nodes: tuple[Node, ...] = NODES) -> list[str]:
    verdicts = judge_spans(GOLD, TALK, Decoded(nodes, events))
    return [f"{v.span.act} {v.span.san}".strip() for v in verdicts if not v.right]


def test_the_true_answer_has_no_faults_and_silence_only_mentions_right() -> None:
    assert wrong(*PERFECT) == []
    assert len(judge_spans(GOLD, TALK, Decoded(NODES, PERFECT))) == 8, "what nobody said is not judged"
    assert wrong() == ["play e4", "play e5", "play Nf3", "return", "play Bc4", "return", "play d4"]


def test_returns_count_by_where_the_next_move_starts() -> None:
    assert wrong(*(e for e in PERFECT if e.act != "return")) == []
    astray = tree((0, "e4"), (1, "e5"), (2, "Nf3"), (3, "Nc6"), (4, "Bc4"))
    events = [*PERFECT[:4], play(12, 14, 5, astray)]
    assert wrong(*events, nodes=astray) == ["return", "return", "play d4"]


def test_a_return_to_elsewhere_is_wrong_unless_the_next_move_mends_it() -> None:
    events = list(PERFECT)
    events[6] = Event("return", 16, 19, 1)
    assert wrong(*events) == []
    assert wrong(*events[:7]) == ["return", "play d4"]


def test_a_played_mention_is_wrong() -> None:
    assert wrong(*PERFECT[:3], play(7, 9, 3), *PERFECT[4:]) == ["mention Nxe5"]


def test_a_sloppy_range_of_a_played_move_does_not_spoil_the_mention_beside_it() -> None:
    assert wrong(*PERFECT[:2], play(4, 8, 3), *PERFECT[4:]) == []


def test_one_event_answers_for_one_stretch() -> None:
    gold = replace(
        GOLD, spans=(Span("play", (14, 16), "Nxe4", 0, ("f6e4",)), Span("play", (14, 16), "Nxe4", 0, ("c3e4",)))
    )
    event = Event("play", 14, 16, 3, "f6e4", "Nxe4")
    assert [v.right for v in judge_spans(gold, TALK, Decoded(NODES, (event,)))] == [True, False]
    assert [v.right for v in judge_spans(gold, TALK, Decoded(NODES, (event, event)))] == [True, True]


def test_retelling_several_moves_adds_nothing_and_ends_where_it_should() -> None:
    gold = replace(GOLD, spans=(Span("retell", (2, 7), "", 0, (E4, E5, NF3)),))

    def right(*events: Event) -> bool:
        return judge_spans(gold, TALK, Decoded(NODES, events))[0].right

    retold = [
        Event("retell", a, b, node, NODES[node].uci, NODES[node].san)
        for a, b, node in [(2, 3, 1), (3, 4, 2), (5, 7, 3)]
    ]
    assert right(*retold)
    assert right(Event("return", 2, 7, 3))
    assert not right(*retold[:2])
    assert not right(*retold, play(5, 7, 3))
    assert not right()


def test_chapters_need_the_right_start() -> None:
    fen = "8/8/4k3/8/4K3/4P3/8/8 w - - 0 1"
    gold = replace(GOLD, spans=(Span("chapter", (0, 2), fen=fen),), starts=(fen,))
    good = (*NODES, Node(6, 1, -1, "", "", fen.replace("0 1", "3 9")))
    assert judge_spans(gold, TALK, Decoded(good, (Event("chapter", 1, 2, 6),)))[0].right
    assert not judge_spans(gold, TALK, Decoded(good, (Event("chapter", 1, 2, 0),)))[0].right
    assert not judge_spans(gold, TALK, Decoded(good, (Event("chapter", 5, 7, 6),)))[0].right
    fresh = replace(GOLD, spans=(Span("chapter", (0, 2), fen=chess.STARTING_FEN),))
    assert judge_spans(fresh, TALK, Decoded(NODES, PERFECT))[0].right


@pytest.mark.parametrize(
    ("san", "other", "same"),
    [
        ("Nf3", "Ngf3", True),
        ("Nxf3+", "Nf3", True),
        ("exd5", "cxd5", True),
        ("Nf3", "Bf3", False),
        ("e8=Q", "e8=N", False),
        ("e8=Q#", "dxe8=Q", True),
        ("O-O", "O-O+", True),
        ("O-O", "O-O-O", False),
        ("", "", False),
    ],
)
def test_the_same_move_elsewhere(san: str, other: str, same: bool) -> None:
    assert same_move(san, other) is same


def test_a_stretch_nobody_heard_is_looked_for_between_its_neighbours() -> None:
    assert heard_range([(0, 1), (1, 1), (1, 2)], (1, 2), 2) == (0, 2)
    assert heard_range([(0, 0), (0, 1)], (0, 1), 1) == (0, 1)


def oracle(gold: GoldTalk) -> Decoded:
    """The true answer as the decoder's record, from the marks."""
    nodes: list[Node] = []
    ids: dict[tuple[int, tuple[str, ...]], int] = {}
    for chapter, start in enumerate(gold.starts):
        ids[chapter, ()] = len(nodes)
        nodes.append(Node(len(nodes), chapter, -1, "", "", start))
    events, chapter = [], -1
    for span in gold.spans:
        if span.act == "chapter":
            chapter += 1
            events.append(Event("chapter", *span.words, ids[chapter, ()]))
            continue
        if span.act == "mention":
            events.append(Event("mention", *span.words, 0, "", span.san))
            continue
        chapter = span.chapter
        key = (chapter, span.path)
        if key not in ids:
            parent = ids[chapter, span.path[:-1]]
            board = chess.Board(nodes[parent].fen)
            board.push_uci(span.path[-1])
            ids[key] = len(nodes)
            nodes.append(Node(ids[key], chapter, parent, span.path[-1], span.san, board.fen()))
        act: Act = "play" if span.act == "play" else "retell" if span.act == "retell" else "return"
        events.append(Event(act, *span.words, ids[key], span.path[-1] if span.san else "", span.san))
    return Decoded(tuple(nodes), tuple(events))


@pytest.mark.parametrize("name", ["opening-traps", "king-and-rook-endings", "marshall-attack"])
def test_the_marks_of_a_sample_are_their_own_right_answer(name: str) -> None:
    gold = load_gold(SAMPLES / name)
    talk = Talk(name, "text", tuple(Word(word) for word in gold.words), ())
    answer = oracle(gold)
    assert [v.span for v in judge_spans(gold, talk, answer) if not v.right] == []
    plays = [e for e in answer.events if e.act == "play"]
    late = Decoded(answer.nodes, tuple(replace(e, first=e.first + 40, last=e.last + 40) for e in plays))
    verdicts = judge_spans(gold, talk, late)
    assert sum(v.right for v in verdicts) < 0.4 * len(verdicts), "events at the wrong words must not count"
