"""Every talk in samples/ is whole: its words, its marks and its true tree say the same thing.

The judge of moves and of PGN is python-chess; nothing here uses the readers or the decoder of the program.
"""

from __future__ import annotations

import re
import shutil
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path

import chess
import chess.pgn
import pytest

from tests.accuracy.gold import SAMPLES, GoldTalk, games, load_gold, talk_folders

TRAINING = SAMPLES / "training"
JUDGED = talk_folders(SAMPLES)
TRAINED = talk_folders(TRAINING)
FILES_OF_A_TALK = {"script.txt", "exact.txt", "gold.pgn", "talk.marked", "spans.json"}

Place = tuple[int, tuple[str, ...]]
"""A position of a talk: its chapter and the UCI moves from the chapter's start."""

every_talk = pytest.mark.parametrize("folder", [*JUDGED, *TRAINED], ids=lambda folder: folder.name)


def true_places(talk: GoldTalk) -> dict[Place, tuple[str, str]]:
    """Every position of gold.pgn after a move, with the move's SAN and how it was told."""
    places: dict[Place, tuple[str, str]] = {}
    for chapter, game in enumerate(games(talk.pgn)):
        todo: list[tuple[tuple[str, ...], chess.pgn.GameNode]] = [((), game)]
        while todo:
            path, node = todo.pop()
            for child in node.variations:
                at = (*path, child.move.uci())
                places[chapter, at] = child.san(), child.comment or "said"
                todo.append((at, child))
    return places


def marks(text: str) -> Iterator[tuple[str, str]]:
    """The marks `{words|what they do}` of a marked text."""
    for mark in re.finditer(r"\{([^{}|]*)\|([^{}|]*)\}", text):
        yield mark[1], mark[2].strip()


@every_talk
def test_the_folder_holds_what_the_manual_lists(folder: Path) -> None:
    manual = (SAMPLES / "README.md").read_text(encoding="utf-8")
    names = {file.name for file in folder.iterdir()}
    heard = {"heard-a.json", "heard-b.json", "captions.vtt"} if folder in JUDGED else set()
    assert names == FILES_OF_A_TALK | heard
    assert [name for name in names if f"`{name}`" not in manual] == []
    assert folder in TRAINED or f"| `{folder.name}` |" in manual


@every_talk
def test_the_tree_reads_without_errors_and_is_not_empty(folder: Path) -> None:
    talk = load_gold(folder)
    read = list(games(talk.pgn))
    assert [error for game in read for error in game.errors] == []
    assert [game.headers["Event"] for game in read] == [f"{folder.name}, chapter {i + 1}" for i in range(len(read))]
    assert all(game.board().is_valid() for game in read)
    assert {how for _, how in true_places(talk).values()} <= {"said", "named", "unspoken"}
    assert len(true_places(talk)) > 20


@every_talk
def test_the_spans_lie_inside_the_script_in_the_order_told(folder: Path) -> None:
    talk = load_gold(folder)
    assert all(0 <= span.words[0] <= span.words[1] <= len(talk.words) for span in talk.spans)
    assert [span.words[0] for span in talk.spans] == sorted(span.words[0] for span in talk.spans)
    silent = [span for span in talk.spans if span.words[0] == span.words[1]]
    assert {span.act for span in silent} <= {"play", "retell", "return", "chapter"}
    assert all(span.how == "unspoken" for span in silent if span.act == "play")


@every_talk
def test_the_paths_of_the_spans_are_legal_and_are_the_tree(folder: Path) -> None:
    talk = load_gold(folder)
    played: dict[Place, tuple[str, str]] = {}
    for span in talk.spans:
        if span.act in ("play", "retell", "return"):
            place = (span.chapter, span.path)
            position(talk, *place)
            if span.act == "play":
                before = position(talk, span.chapter, span.path[:-1])
                assert span.san == before.san(before.parse_uci(span.path[-1]))
                assert place not in played
                played[place] = span.san, span.how
            assert not span.path or place in played
    assert played == true_places(talk)


@every_talk
def test_the_chapters_start_where_their_spans_say(folder: Path) -> None:
    talk = load_gold(folder)
    opened = [span.fen for span in talk.spans if span.act == "chapter"]
    unannounced = [chess.STARTING_FEN] * (len(talk.starts) - len(opened))
    assert len(unannounced) <= 1
    assert (*unannounced, *opened) == talk.starts
    assert [span.chapter for span in talk.spans if span.act == "play"] == sorted(
        span.chapter for span in talk.spans if span.act == "play"
    )


@every_talk
def test_all_files_hold_the_same_words(folder: Path) -> None:
    talk = load_gold(folder)
    marked = (folder / "talk.marked").read_text(encoding="utf-8")
    assert tuple(re.sub(r"\{([^{}|]*)\|[^{}|]*\}", r"\1", marked).split()) == talk.words
    stamped = (folder / "exact.txt").read_text(encoding="utf-8")
    assert tuple(re.sub(r"^\[(\d+:)?\d+:\d\d\]", "", stamped, flags=re.MULTILINE).split()) == talk.words


@every_talk
def test_the_marks_are_the_spans(folder: Path) -> None:
    """In order: as many spans for each mark as it has moves, of the mark's act, over the mark's words."""
    talk = load_gold(folder)
    left = list(talk.spans)
    for words, code in marks((folder / "talk.marked").read_text(encoding="utf-8")):
        act = {"?": "mention", "!": "retell", "@": "return", "%": "chapter"}.get(code[0])
        for token in [code] if act else code.split():
            span = left.pop(0)
            assert words.strip() in " ".join(talk.words[slice(*span.words)]), (words, code)
            if act:
                assert span.act == act, (words, code)
            else:
                assert span.act in ("play", "retell"), (words, code)
                board = position(talk, span.chapter, span.path[:-1])
                assert board.parse_san(san_of(token)).uci() == span.path[-1], (words, code)
    assert left == []


def position(talk: GoldTalk, chapter: int, path: Sequence[str]) -> chess.Board:
    """The board after the UCI moves of `path`; ValueError for an illegal one."""
    board = chess.Board(talk.starts[chapter])
    for uci in path:
        board.push(board.parse_uci(uci))
    return board


def san_of(token: str) -> str:
    """The move of a token of a mark, without its flags `~` (unspoken), `=` (named), `^` and its `#label`."""
    found = re.match(r"O-O-O|O-O|[KQRBN]?[a-h]?[1-8]?x?[a-h][1-8](?:=[QRBN])?", token)
    assert found, token
    return found[0]


@every_talk
def test_no_talk_trains_the_weights_and_judges_them(folder: Path) -> None:
    """Not even a dozen of its words in a row."""
    assert Counter(other.name for other in (*JUDGED, *TRAINED))[folder.name] == 1
    mine = runs(load_gold(folder))
    others = TRAINED if folder in JUDGED else JUDGED
    assert [other.name for other in others if mine & runs(load_gold(other))] == []


@cache
def _runs(words: tuple[str, ...], length: int) -> frozenset[tuple[str, ...]]:
    return frozenset(words[i : i + length] for i in range(len(words) - length + 1))


def runs(talk: GoldTalk, length: int = 12) -> frozenset[tuple[str, ...]]:
    """All runs of `length` words of a talk, letters only."""
    return _runs(tuple(re.sub(r"\W", "", word).lower() for word in talk.words), length)


@pytest.mark.parametrize(
    ("file", "right", "wrong", "check"),
    [
        ("gold.pgn", "1. e4", "1. Ke4", test_the_tree_reads_without_errors_and_is_not_empty),
        ("gold.pgn", "1. e4", "1. e3", test_the_paths_of_the_spans_are_legal_and_are_the_tree),
        ("spans.json", '["e2e4"]', '["e2e5"]', test_the_paths_of_the_spans_are_legal_and_are_the_tree),
        ("spans.json", '"san": "e4"', '"san": "e5"', test_the_paths_of_the_spans_are_legal_and_are_the_tree),
        ("spans.json", '"words": [', '"words": [9', test_the_spans_lie_inside_the_script_in_the_order_told),
        ("spans.json", '"words": [', '"words": [9', test_the_marks_are_the_spans),
        ("talk.marked", "|e4}", "|d4}", test_the_marks_are_the_spans),
        ("talk.marked", "|e4}", "|?e4}", test_the_marks_are_the_spans),
        ("script.txt", " and ", " ", test_all_files_hold_the_same_words),
        ("exact.txt", " and ", " ", test_all_files_hold_the_same_words),
    ],
)
def test_a_broken_talk_is_noticed(
    file: str, right: str, wrong: str, check: Callable[[Path], None], tmp_path: Path
) -> None:
    """A planted fault of each kind is seen: this file's checks can fail."""
    folder = tmp_path / "wireless-from-hastings"
    shutil.copytree(TRAINING / folder.name, folder)
    check(folder)
    text = (folder / file).read_text(encoding="utf-8")
    assert right in text
    (folder / file).write_text(text.replace(right, wrong, 1), encoding="utf-8")
    with pytest.raises((AssertionError, ValueError)):
        check(folder)
