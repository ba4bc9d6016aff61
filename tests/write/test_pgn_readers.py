"""Every PGN written is read by four readers that are not ours, without a complaint and as the same tree."""

from __future__ import annotations

import io
import re
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import chess
import chess.pgn
import pytest
from hypothesis import HealthCheck, given, settings

from lesson.model import Chapter, Event, Lesson
from lesson.pipeline import convert
from lesson.write import pgn_text
from lesson.write.pgn import Comments
from tests.accuracy.gold import SAMPLES, VERSIONS, talk_folders
from tests.decoded import lessons
from tests.outside import node_reading, pgn_extract_complaints, pgn_extract_rewrites, squeezed
from tests.write.made import chain, ladder, lesson_of, said, tree_of

Tree = list[tuple[int, str, str]]
"""Moves in the order of the text: index of the parent or -1, SAN, position after the move (first three FEN fields)."""


def our_tree(chapter: Chapter) -> Tree:
    boards: dict[str | None, chess.Board] = {None: chess.Board(chapter.start_fen)}
    index: dict[str | None, int] = {None: -1}
    tree: Tree = []
    for move in chapter.moves:
        board = boards[move.parent].copy(stack=False)
        board.push_uci(move.uci)
        boards[move.id] = board
        index[move.id] = len(tree)
        tree.append((index[move.parent], move.san, essence(board.fen())))
    return tree


def essence(fen: str) -> str:
    """Placement, side and castling: readers differ on the e.p. square (standards before and after 1994)."""
    return " ".join(fen.split()[:3])


def python_chess_games(text: str) -> list[chess.pgn.Game]:
    stream = io.StringIO(text)
    games = []
    while (game := chess.pgn.read_game(stream)) is not None:
        games.append(game)
    return games


def python_chess_tree(game: chess.pgn.Game) -> Tree:
    tree: Tree = []
    todo = [(-1, game.board(), node) for node in reversed(game.variations)]
    while todo:
        parent, before, node = todo.pop()
        board = before.copy(stack=False)
        san = board.san_and_push(node.move)
        tree.append((parent, san, essence(board.fen())))
        todo += [(len(tree) - 1, board, child) for child in reversed(node.variations)]
    return tree


def spoken_at(lesson: Lesson, chapter: Chapter, at: str | None) -> str:
    """What the comments say at a move, as the portable subset writes it, without white space and times."""
    texts = [c.text for c in lesson.comments if c.chapter == chapter.id and c.at == at]
    return portable("".join(texts))


def portable(text: str) -> str:
    for old, new in (("{", "("), ("}", ")"), ("\ufeff", ""), ("[%", "(%"), ("；", ";"), ("％", "%")):
        text = text.replace(old, new)
    return squeezed("".join(" " if ord(c) < 32 or 127 <= ord(c) < 160 else c for c in text))


def check_with_all_readers(lesson: Lesson, *texts: str, comments: bool = True) -> None:
    """Each of `texts` is a PGN of `lesson`; they are read as one file, because starting the readers takes time."""
    text = "".join(texts)
    chapters = lesson.chapters * len(texts)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "study.pgn"
        path.write_bytes(text.encode("utf-8"))
        assert pgn_extract_complaints(path, len(chapters)) == ""
        reading = node_reading(path)
    assert reading["errors"] == []
    games = python_chess_games(text)
    assert [error for game in games for error in game.errors] == []
    assert len(games) == len(reading["games"]) == len(chapters)
    for chapter, game, other, main in zip(chapters, games, reading["games"], reading["mains"], strict=True):
        ours = our_tree(chapter)
        assert python_chess_tree(game) == ours
        assert [(parent, san, essence(fen)) for parent, san, _, _, fen in other["moves"]] == ours
        assert main["moves"] == main_line(ours)
        if comments:
            assert_same_comments(lesson, chapter, game, other)


def main_line(tree: Tree) -> list[str]:
    sans: list[str] = []
    wanted = -1
    for index, (parent, san, _) in enumerate(tree):
        if parent == wanted:
            sans.append(san)
            wanted = index
    return sans


def assert_same_comments(lesson: Lesson, chapter: Chapter, game: chess.pgn.Game, other: dict[str, Any]) -> None:
    """An untimed lesson of sure, spoken moves: nothing but the words stands in the comments."""
    seen: dict[str | None, str] = {None: squeezed(game.comment)}
    todo: list[tuple[str | None, chess.pgn.GameNode]] = [(None, game)]
    children: dict[str | None, list[str]] = {}
    for move in chapter.moves:
        children.setdefault(move.parent, []).append(move.id)
    while todo:
        at, node = todo.pop()
        seen[at] = squeezed(node.comment)
        todo += zip(children.get(at, []), node.variations, strict=True)
    theirs: dict[str | None, str] = {None: other["comment"]}
    theirs |= {move.id: entry[3] for move, entry in zip(chapter.moves, other["moves"], strict=True)}
    for at in seen:
        assert portable(seen[at]) == spoken_at(lesson, chapter, at)
        assert portable(theirs[at]) == spoken_at(lesson, chapter, at)


def unmarked(lesson: Lesson) -> Lesson:
    """The same lesson without unsure or unspoken moves, whose comments hold words of ours."""
    chapters = tuple(
        chapter.model_copy(
            update={
                "moves": tuple(move.model_copy(update={"flagged": False, "origin": "said"}) for move in chapter.moves)
            }
        )
        for chapter in lesson.chapters
    )
    return lesson.model_copy(update={"chapters": chapters})


slow = settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))


@slow
@given(lessons(timed=False))
def test_random_lessons_read_the_same_everywhere(lesson: Lesson) -> None:
    lesson = unmarked(lesson)
    check_with_all_readers(lesson, pgn_text(lesson))


@slow
@given(lessons(timed=True))
def test_times_and_doubts_change_no_tree(lesson: Lesson) -> None:
    modes: tuple[Comments, ...] = ("full", "brief", "none")
    check_with_all_readers(lesson, *(pgn_text(lesson, mode) for mode in modes), comments=False)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("2. Nf3", "2. Nf6"),
        ("2. Nf3", "2. Ngf3"),
        ("(1... c5)", "(1... c4)"),
        ("{ so }", "{ so } }"),
        ("{ so }", "{ so } { so }"),
        ("{ so }", "{ no }"),
        (" (1... c5)", ""),
        ("(1... c5)", "(1... c5 2. c3)"),
        (" *", " 1-0"),
    ],
)
def test_the_readers_do_complain(right: str, wrong: str) -> None:
    """A planted fault of each kind is seen: this file's checks can fail."""
    nodes = tree_of("e4 e5 Nf3", "e4 c5")
    events = tuple(
        Event("play", at, at + 1, i, nodes[i].uci, nodes[i].san) for i, at in ((1, 0), (2, 2), (3, 3), (4, 4))
    )
    lesson = lesson_of(said("e4 so e5 Nf3 c5"), nodes, events)
    text = pgn_text(lesson).replace("{ e4 so }", "{ so }")
    lesson = lesson.model_copy(update={"comments": (lesson.comments[0].model_copy(update={"text": "so"}),)})
    check_with_all_readers(lesson, text)
    assert right in text
    with pytest.raises(AssertionError):
        check_with_all_readers(lesson, text.replace(right, wrong))


@pytest.mark.parametrize("depth", [60, 600])
def test_a_long_line(depth: int) -> None:
    lesson = chain(depth)
    check_with_all_readers(lesson, pgn_text(lesson))


@pytest.mark.parametrize("depth", [3, 24, 60])
def test_deep_nesting(depth: int) -> None:
    lesson = ladder(depth)
    assert pgn_text(lesson).count("(") == depth
    check_with_all_readers(lesson, pgn_text(lesson))


def test_a_telling_far_deeper_than_readers_go_is_still_written() -> None:
    text = pgn_text(ladder(3000))
    assert text.count("(") == text.count(")") == 3000


def test_a_chapter_of_words_only() -> None:
    lesson = lesson_of(said("Nothing was played today."))
    text = pgn_text(lesson)
    assert text.endswith("\n\n{ Nothing was played today. } *\n\n")
    check_with_all_readers(lesson, text)


@slow
@given(lessons())
def test_pgn_extract_writes_the_same_again(lesson: Lesson) -> None:
    """A second opinion on numbers and order: white space apart, it reproduces the movetext we wrote.

    (It writes SetUp before FEN, which is not the ASCII order of 8.1.1, so tags are left out.)
    """
    text = pgn_text(lesson)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "study.pgn"
        path.write_bytes(text.encode("utf-8"))
        assert movetexts(pgn_extract_rewrites(path, 79)) == movetexts(text)


QUICK_SAMPLES = ("king-and-rook-endings", "opening-traps")
"""Decoding all samples in all versions takes minutes, so the ordinary run reads back these; see the marker `every`."""


@pytest.mark.parametrize("file", VERSIONS.values())
@pytest.mark.parametrize(
    "folder",
    [pytest.param(f, marks=() if f.name in QUICK_SAMPLES else pytest.mark.every) for f in talk_folders(SAMPLES)],
    ids=lambda folder: folder.name,
)
def test_the_study_of_every_sample_reads_the_same_everywhere(folder: Path, file: str, tmp_path: Path) -> None:
    made = convert(folder / file, tmp_path)
    (path,) = (path for path in made.files if path.suffix == ".pgn")
    text = path.read_bytes().decode("utf-8")
    brief_and_none: tuple[Comments, ...] = ("brief", "none")
    check_with_all_readers(made.lesson, text, *(pgn_text(made.lesson, c) for c in brief_and_none), comments=False)
    assert movetexts(pgn_extract_rewrites(path, 79)) == movetexts(text)


def movetexts(text: str) -> list[str]:
    """Every game's movetext without its white space: pgn-extract breaks a line by bytes, even inside a long word."""
    # A comment may break its lines before "[Event"; only after a blank line is that a tag.
    games = re.split(r"(?:\A|\n\n)\[Event .*\n(?:\[.*\n)*", text)[1:]
    return ["".join(game.split()) for game in games]
