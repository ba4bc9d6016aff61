"""What converting a talk of an hour takes: time and memory of the command itself, printed and held below bounds.

Time is that of the processor, because a machine that is busy with other things says nothing of the program.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lesson.model import Lesson
from tests.accuracy.gold import SAMPLES, talk_folders

HOUR_S = 3600.0
PAUSE_S = 2.0

TOLD = (
    "alekhine-voice-letter",
    "annotators-card-index",
    "arsenic-on-b2",
    "baker-against-the-clock",
    "baron-and-the-clockmaker",
    "benoni-sceptic",
)
"""Training talks that fill the hour: always the same, so that one day's figures can stand beside another's."""

MOST_S, MOST_MB = 300.0, 1000.0
"""Bounds that only a fault breaks: well over what a small machine (two cores) takes on the day of writing."""

# The child stands between: a program begins with the peak of the process that started it, and ours may be large.
METER = """
import resource, subprocess, sys
code = subprocess.run(sys.argv[1:]).returncode
used = resource.getrusage(resource.RUSAGE_CHILDREN)
unit = 1 if sys.platform == "darwin" else 1024  # getrusage(2): bytes there, kilobytes on Linux
print(used.ru_utime + used.ru_stime, used.ru_maxrss * unit)
sys.exit(code)
"""

Segment = dict[str, Any]


def heard(folder: Path) -> list[Segment]:
    """The segments that a recogniser made of a sample."""
    segments: list[Segment] = json.loads((folder / "heard-a.json").read_text(encoding="utf-8"))["segments"]
    return segments


def transcribed(folder: Path) -> list[Segment]:
    """The stamped paragraphs of a training talk as segments; the last one is given ten seconds."""
    text = (folder / "exact.txt").read_text(encoding="utf-8")
    rows = re.findall(r"^\[(\d+):(\d\d)\] (.+?)\s*(?=^\[|\Z)", text, flags=re.MULTILINE | re.DOTALL)
    starts = [60.0 * int(minutes) + int(seconds) for minutes, seconds, _ in rows]
    ends = [*starts[1:], starts[-1] + 10.0]
    return [
        {"start": start, "end": end, "text": words}
        for start, end, (_, _, words) in zip(starts, ends, rows, strict=True)
    ]


def shifted(segment: Segment, by_s: float) -> Segment:
    moved = {key: segment[key] + by_s for key in ("start", "end")}
    words = [shifted(word, by_s) for word in segment.get("words", [])]
    return segment | moved | ({"words": words} if words else {})


def an_hour() -> Iterator[Segment]:
    """Talks one after the other, all that were heard and then six transcribed ones, until the hour is full."""
    begins = 0.0
    talks = [heard(folder) for folder in talk_folders(SAMPLES)]
    talks += [transcribed(SAMPLES / "training" / name) for name in TOLD]
    for talk in talks:
        for segment in talk:
            if begins + segment["end"] > HOUR_S:
                return
            yield shifted(segment, begins)
        begins += talk[-1]["end"] + PAUSE_S


@pytest.mark.hour
def test_an_hour_is_converted_in_minutes_and_in_little_memory(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "hour.json"
    segments = list(an_hour())
    assert segments[-1]["end"] > HOUR_S - 60
    path.write_text(json.dumps({"segments": segments}), encoding="utf-8")
    command = [sys.executable, "-m", "lesson.cli", "convert", "-q", str(path)]
    run = subprocess.run([sys.executable, "-c", METER, *command], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    seconds, memory = map(float, run.stdout.split())
    lesson = Lesson.model_validate_json((tmp_path / "hour.lesson.json").read_bytes())
    moves = sum(len(chapter.moves) for chapter in lesson.chapters)
    assert len(lesson.words) == sum(len(segment["text"].split()) for segment in segments)
    with capsys.disabled():
        print(
            f"\nan hour of talk: {len(lesson.words)} words, {len(lesson.chapters)} chapters, {moves} moves"
            f" in {seconds:.0f} s of processor time and at most {memory / 1e6:.0f} MB"
        )
    assert seconds < MOST_S
    assert memory < MOST_MB * 1e6
