"""The messages of the readers: each with the smallest input that causes it."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from lesson.errors import ReadError, UsageError
from lesson.read import FORMATS, read_talk, read_text
from lesson.settings import MAX_WORDS

MESSAGES: list[tuple[str, str, bytes]] = [
    ("the file is empty", "talk.txt", b""),
    ("the file is empty", "talk.txt", b" \n\t"),
    ("not a text file", "talk.txt", b"e4\0\x01\x02 e5"),
    ("not a text file", "talk.srt", b"\x01" * 2 + b"e" * 100),
    ("not a text file", "talk.txt", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x10\0\0\0\x10"),
    ("UTF-16 without a byte-order mark", "talk.txt", "e4 e5".encode("utf-16-le")),
    ("UTF-16 text is broken or cut off", "talk.txt", "e4".encode("utf-16")[:-1]),
    ("UTF-32 text is broken or cut off", "talk.txt", "e4".encode("utf-32")[:-1]),
    ("no words found", "talk.vtt", b"WEBVTT"),
    ("no valid timing line", "talk.vtt", b"WEBVTT\n\n00:01,000 --> 00:02,000\ne4"),
    ("begins with the line WEBVTT", "talk.vtt", b"e4"),
    ("SubRip needs one for every cue", "talk.srt", b"1\ne4"),
    ("no words found", "talk.srt", b"1\n00:00:00,000 --> 00:00:01,000\n"),
    ("no words found", "talk.txt", b"[0:00]"),
    ("broken or cut-off JSON at line 1, column 15", "talk.json", b'{"segments": ['),
    ("broken or cut-off JSON", "talk.json", b"e4"),
    ("broken or cut-off JSON", "talk.txt", b'{"text": "e4'),
    ("nested too deeply", "talk.json", b"[" * 100_000),
    ("thousands of digits", "talk.json", b'[{"word": "e4", "start": ' + b"1" * 5000 + b"}]"),
    ('no "segments", "words" or "text"', "talk.json", b'{"colour": "green"}'),
    ('the JSON holds "17"', "talk.json", b"17"),
    ("no words found", "talk.json", b"[]"),
    ("no words found", "talk.json", b'{"segments": []}'),
    ("neither text nor words", "talk.json", b"[1]"),
    ("no words found", "talk.ctm", b"7 A 1 0.5"),
    ("2 recordings in one file", "talk.ctm", b"7 A 1 0.5 e4\n8 A 1 0.5 e4"),
    ("a rich text document", "talk.rtf", b"{\\rtf1 e4}"),
    ("a web page", "talk.html", b"<!DOCTYPE html><p>e4"),
    ("an XML document", "talk.xml", b"<?xml version='1.0'?><tt/>"),
    ("a subtitle script with styles", "talk.ass", b"[Script Info]"),
]


@pytest.mark.parametrize(("part", "name", "data"), MESSAGES)
def test_message(part: str, name: str, data: bytes, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(ReadError) as caught:
        read_talk(path)
    line = str(caught.value)
    assert part in line
    assert line.startswith(f"{path}: ")
    assert "\n" not in line
    assert path.read_bytes() == data


def test_missing_file_folder_and_unknown_format(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="no such file"):
        read_talk(tmp_path / "talk.vtt")
    with pytest.raises(ReadError, match="is a folder"):
        read_talk(tmp_path)
    with pytest.raises(ReadError, match="cannot be read"):
        read_talk(tmp_path / ("x" * 5000))
    with pytest.raises(UsageError) as caught:
        read_talk(tmp_path / "talk.vtt", "gramophone")
    assert all(row.name in str(caught.value) for row in FORMATS)


@pytest.mark.parametrize("format", ["vtt", "srt", "json"])
def test_a_format_forced_on_other_text_is_refused(format: str) -> None:
    with pytest.raises(ReadError, match=r"talk\.txt: "):
        read_text(b"We begin with e4.", "talk.txt", format)


FLOODS: dict[str, bytes] = {
    "words.txt": b"e4 " * 1001,
    "words.vtt": b"WEBVTT\n\n00:00.000 --> 00:01.000\n" + b"e4 " * 1001,
    "cues.vtt": b"WEBVTT\n\n" + b"00:00.000 --> 00:01.000\ne4\n\n" * 1001,
    "cues.srt": b"1\n00:00:00,000 --> 00:00:01,000\n\n" * 1001,
    "segment.json": b'[{"text": "' + b"e4 " * 1001 + b'"}]',
    "words.ctm": b"7 A 1 0.5 e4\n" * 1001,
    "stamps.txt": b"[0:01] e4\n" * 1001,
}


@pytest.mark.parametrize("name", FLOODS)
def test_a_flood_of_words_is_refused(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lesson.read.draft.MAX_WORDS", 1000)
    monkeypatch.setattr("lesson.read.srt.MAX_WORDS", 1000)
    with pytest.raises(ReadError, match=r"more than \d+ (words|cues); split"):
        read_text(FLOODS[name], name)


def test_the_limit_of_words_holds_as_it_is() -> None:
    with pytest.raises(ReadError, match=f"more than {MAX_WORDS} words"):
        read_text(b"e4 " * (MAX_WORDS + 1), "talk.txt")


def test_a_file_that_is_too_large_is_refused_before_it_is_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "wide.txt"
    with path.open("wb") as file:
        file.truncate(100 * 1000 * 1000)
    with pytest.raises(ReadError, match="larger than 64 MB"):
        read_talk(path)


# Inputs on which a careless pattern or loop takes quadratic time.
STEEP: dict[str, bytes] = {
    "brackets.vtt": b"WEBVTT\n\n00:00.000 --> 00:01.000\n" + b"<" * 100_000,
    "ampersands.vtt": b"WEBVTT\n\n00:00.000 --> 00:01.000\n" + b"&" * 100_000,
    "tags.vtt": b"WEBVTT\n\n00:00.000 --> 00:01.000\nx" + b"<v A>" * 50_000,
    "arrows.vtt": b"WEBVTT\n\n" + b"-->\n" * 50_000 + b"00:00.000 --> 00:01.000\nx",
    "tags.srt": b"1\n00:00:00,000 --> 00:00:01,000\n" + b"<font " * 50_000 + b"{\\" * 50_000,
    "digits.srt": b"1\n00:00:00,000 --> 00:00:01,000\n" + b"1" * 200_000,
    "digits.txt": b"[" + b"1" * 200_000 + b":00] e4 [" + b"1:" * 100_000,
    "stamps.txt": b"[0:00] e4 " + b"[0:01]" * 50_000,
    "differ.json": b'[{"text": "' + b"a" * 200_000 + b'b", "words": [{"word": "' + b"a" * 200_000 + b'c"}]}]',
    "backwards.ctm": b"".join(b"7 A %d 0.5 e4\n" % i for i in range(20_000, 0, -1)),
}


@pytest.mark.parametrize("name", STEEP)
def test_time_grows_in_proportion_to_the_file(name: str) -> None:
    begun = time.process_time()
    read_text(STEEP[name], name)
    assert time.process_time() - begun < 10
