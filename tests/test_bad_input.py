"""What is broken gets one clear line and exit code 2; what is odd but readable gets an honest study."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path

import chess.pgn
import pytest

from lesson.cli import main
from lesson.model import Lesson

SENTENCE = "We begin with e4, e5, knight f3 and knight c6."


def refused(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """The one line that a refused command prints."""
    assert main(arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("lesson: ")
    assert printed.err.count("\n") == 1
    assert "Traceback" not in printed.err
    return printed.err


def converted(path: Path) -> Lesson:
    """The lesson that came out of converting `path` into a folder beside it."""
    out = path.parent / "out"
    assert main(["convert", str(path), "-q", "-o", str(out)]) == 0
    return Lesson.model_validate_json((out / f"{path.stem}.lesson.json").read_bytes())


CUES = {"segments": [{"start": 0.0, "end": 4.0, "text": SENTENCE, "words": []}]}

BROKEN: dict[str, bytes] = {
    "empty.txt": b"",
    "only-space.txt": b" \n\t\r\n ",
    "binary.vtt": bytes(range(256)) * 16,
    "picture.txt": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x10\x00\x00\x00\x10\x08\x02",
    "truncated.json": json.dumps(CUES).encode()[:-12],
    "other.json": b'{"colour": "green", "numbers": [1, 2, 3]}',
    "number.json": b"17",
    "deep.json": b"[" * 100_000,
    "header-only.vtt": b"WEBVTT\n\n",
    "no-cues.vtt": b"WEBVTT\n\nNOTE nothing else\n",
    "utf16-cut.txt": "e4, e5".encode("utf-16")[:-1],
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_files_are_refused(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / name
    path.write_bytes(BROKEN[name])
    assert name in refused(["convert", str(path)], capsys)
    assert list(tmp_path.iterdir()) == [path]


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "absent.vtt" in refused(["convert", str(tmp_path / "absent.vtt")], capsys)
    assert str(tmp_path) in refused(["convert", str(tmp_path)], capsys)


def test_an_unknown_format_is_refused_and_the_known_ones_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "talk.txt"
    path.write_text(SENTENCE, encoding="utf-8")
    line = refused(["convert", str(path), "--format", "gramophone"], capsys)
    assert "gramophone" in line
    assert "vtt" in line


def test_a_format_the_file_does_not_have_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "talk.txt"
    path.write_text(SENTENCE, encoding="utf-8")
    assert "talk.txt" in refused(["convert", str(path), "--format", "json"], capsys)


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252", "utf-16", "utf-8-sig"])
def test_another_encoding_is_refused_or_read_with_every_word(
    encoding: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = "Señor Ibáñez plays e4, e5, knight f3."
    path = tmp_path / "talk.txt"
    path.write_bytes(text.encode(encoding))
    if main(["convert", str(path), "-q", "-o", str(tmp_path / "out")]) == 0:
        lesson = Lesson.model_validate_json((tmp_path / "out" / "talk.lesson.json").read_bytes())
        assert [word.text for word in lesson.words] == text.split()
    else:
        assert capsys.readouterr().err.count("\n") == 1


def test_cue_times_that_run_backwards_are_mended_and_reported(tmp_path: Path) -> None:
    path = tmp_path / "talk.srt"
    path.write_text(
        "1\n00:00:09,000 --> 00:00:05,000\nWe begin with e4, e5,\n\n"
        "2\n00:00:02,000 --> 00:00:04,000\nknight f3 and knight c6.\n",
        encoding="utf-8",
    )
    lesson = converted(path)
    assert " ".join(word.text for word in lesson.words) == SENTENCE
    times = [(word.start_ms, word.end_ms) for word in lesson.words]
    assert all(start is not None and end is not None and start <= end for start, end in times)
    assert lesson.findings


def test_a_talk_without_chess_becomes_an_honest_empty_study(tmp_path: Path) -> None:
    text = (
        "Good evening. The soup needs an hour, so chop the onions first and let them sweat. "
        "My aunt used to add a little paprika, which I find too much. Serve it with bread."
    )
    path = tmp_path / "soup.txt"
    path.write_text(text, encoding="utf-8")
    lesson = converted(path)
    assert [move for chapter in lesson.chapters for move in chapter.moves] == []
    assert [word.text for word in lesson.words] == text.split()
    with (tmp_path / "out" / "soup.pgn").open(encoding="utf-8") as study:
        games = list(iter(lambda: chess.pgn.read_game(study), None))
    assert [(game.errors, list(game.mainline_moves())) for game in games] == [([], [])] * len(games)
    written = " ".join((tmp_path / "out" / "soup.pgn").read_text(encoding="utf-8").split())
    assert all(word in written for word in text.split())


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write everywhere")
def test_a_read_only_folder_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "talk.txt"
    path.write_text(SENTENCE, encoding="utf-8")
    out = tmp_path / "locked"
    out.mkdir(mode=0o555)
    assert "locked" in refused(["convert", str(path), "-o", str(out)], capsys)
    assert list(out.iterdir()) == []


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="/proc takes no files, not even from the superuser")
def test_a_folder_that_takes_no_files_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "talk.txt"
    path.write_text(SENTENCE, encoding="utf-8")
    assert "/proc" in refused(["convert", str(path), "-o", "/proc/self"], capsys)


def test_a_file_where_the_folder_should_be_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "talk.txt"
    path.write_text(SENTENCE, encoding="utf-8")
    refused(["convert", str(path), "-o", str(path)], capsys)
    assert path.read_text(encoding="utf-8") == SENTENCE


def tiny_cues(count: int) -> Iterator[str]:
    for i in range(count):
        minutes, second = divmod(i, 60)
        stamp = f"{minutes // 60:02}:{minutes % 60:02}:{second:02}"
        yield f"{i + 1}\n{stamp},000 --> {stamp},900\nx\n\n"


def test_a_million_cues_are_refused_or_read_within_a_minute(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "endless.srt"
    with path.open("w", encoding="utf-8") as file:
        file.writelines(tiny_cues(1_000_000))
    start = time.monotonic()
    status = main(["convert", str(path), "-q", "-o", str(tmp_path / "out")])
    assert time.monotonic() - start < 60
    printed = capsys.readouterr()
    assert (status, printed.err) == (0, "") or (status == 2 and "endless.srt" in printed.err)


def test_a_line_of_a_hundred_million_characters_is_refused_or_read_within_a_minute(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "wide.txt"
    with path.open("w", encoding="utf-8") as file:
        file.writelines("endless talk " * 1000 for _ in range(8000))
    start = time.monotonic()
    status = main(["convert", str(path), "-q", "-o", str(tmp_path / "out")])
    assert time.monotonic() - start < 60
    printed = capsys.readouterr()
    assert (status, printed.err) == (0, "") or (status == 2 and "wide.txt" in printed.err)
