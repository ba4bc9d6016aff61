"""The command line: what it prints, what it writes, how it ends."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import click
import jsonschema
import pytest

from lesson import __version__, pipeline
from lesson.cli import cli, main
from lesson.model import Lesson
from lesson.write import OUTPUTS

ROOT = Path(__file__).resolve().parent.parent

# What `lesson --help` may import from outside the standard library. A stage in this list would cost every start-up.
START_UP_MAY_IMPORT = {"click", "lesson", "lesson.cli", "lesson.errors"}

TALK = """[0:00] Let us begin with e4, e5, knight f3, knight c6, bishop b5.
[0:12] And here Black plays a6. A quiet little move.
"""


@pytest.fixture
def talk(tmp_path: Path) -> Path:
    """A short talk of six moves, alone in a folder."""
    path = tmp_path / "evening.txt"
    path.write_text(TALK, encoding="utf-8")
    return path


def outputs_of(stem: str, folder: Path) -> list[Path]:
    return [folder / f"{stem}{output.suffix}" for output in OUTPUTS]


def test_start_up_imports_no_stage() -> None:
    code = (
        "import sys; before = set(sys.modules); from lesson.cli import main; main(['convert', '--help']);"
        "print(*sorted(set(sys.modules) - before), file=sys.stderr)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    loaded = {name for name in run.stderr.split() if name.split(".")[0] not in sys.stdlib_module_names}
    ours = {name for name in loaded if name.split(".")[0] == "lesson"}
    others = {name.split(".")[0] for name in loaded} - {"lesson"}
    assert ours | others <= START_UP_MAY_IMPORT


def commands() -> list[click.Command]:
    return [cli, *cli.commands.values()]


@pytest.mark.parametrize("command", commands(), ids=lambda command: str(command.name))
def test_every_command_and_option_has_help(command: click.Command) -> None:
    assert command.help
    options = [parameter for parameter in command.params if isinstance(parameter, click.Option)]
    assert [option.name for option in options if not option.help] == []


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"lesson {__version__}\n"


def test_convert_writes_every_output_and_sums_up(
    talk: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new" / "folder"
    assert main(["convert", str(talk), "-o", str(out)]) == 0
    printed = capsys.readouterr()
    assert sorted(out.iterdir()) == sorted(outputs_of("evening", out))
    lesson = Lesson.model_validate_json((out / "evening.lesson.json").read_bytes())
    counts = pipeline.count(lesson)
    assert counts.words == len(TALK.split()) - TALK.count("[")
    assert f"{counts.spoken} heard, {counts.unspoken} not said, {counts.flagged} flagged" in printed.out
    assert all(str(path) in printed.out for path in outputs_of("evening", out))
    assert len(printed.out.splitlines()) <= 24
    assert printed.err == ""


def test_without_a_folder_the_outputs_lie_beside_the_talk(talk: Path) -> None:
    assert main(["convert", str(talk)]) == 0
    assert sorted(talk.parent.iterdir()) == sorted([talk, *outputs_of("evening", talk.parent)])


def test_a_terminal_sees_progress(
    talk: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")  # what rich takes for a terminal: https://force-color.org
    monkeypatch.setenv("TERM", "xterm")
    assert main(["convert", str(talk), str(tmp_path / "absent.vtt")]) == 2
    printed = capsys.readouterr()
    assert all(word in printed.err for word in ("evening.txt", "hear and decode", "done", "absent.vtt", "failed"))
    assert "\x1b" not in printed.out


def test_quiet_prints_nothing(talk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["convert", str(talk), "--quiet"]) == 0
    assert capsys.readouterr() == ("", "")


def test_the_lesson_file_fits_the_printed_schema(talk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Checked by an independent validator of JSON Schema 2020-12."""
    assert main(["schema"]) == 0
    schema = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert main(["convert", str(talk), "--quiet"]) == 0
    lesson = json.loads(talk.with_name("evening.lesson.json").read_bytes())
    validator = jsonschema.Draft202012Validator(schema)
    validator.validate(lesson)
    del lesson["words"][0]["place"]
    assert not validator.is_valid(lesson)


def test_comments_and_title_reach_the_study(talk: Path, tmp_path: Path) -> None:
    full, none = tmp_path / "full", tmp_path / "none"
    assert main(["convert", str(talk), "-q", "-o", str(full), "--title", "Thursday class"]) == 0
    assert main(["convert", str(talk), "-q", "-o", str(none), "--comments", "none"]) == 0
    with_words = (full / "evening.pgn").read_text(encoding="utf-8")
    without = (none / "evening.pgn").read_text(encoding="utf-8")
    assert "quiet little move" in " ".join(with_words.split())
    assert "Thursday class" in with_words
    assert "quiet" not in without
    lesson = Lesson.model_validate_json((none / "evening.lesson.json").read_bytes())
    assert [word.text for word in lesson.words][-3:] == ["quiet", "little", "move."]


def test_same_input_same_bytes(talk: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "1", tmp_path / "2"
    for out in (first, second):
        assert main(["convert", str(talk), "-q", "-o", str(out)]) == 0
    assert [p.read_bytes() for p in outputs_of("evening", first)] == [
        p.read_bytes() for p in outputs_of("evening", second)
    ]


def test_existing_outputs_are_replaced_and_the_talk_is_not_touched(talk: Path) -> None:
    talk.chmod(0o444)
    before = (talk.read_bytes(), talk.stat().st_mtime_ns)
    for path in outputs_of("evening", talk.parent):
        path.write_text("an older run", encoding="utf-8")
    assert main(["convert", str(talk), "-q"]) == 0
    assert all(path.read_text(encoding="utf-8") != "an older run" for path in outputs_of("evening", talk.parent))
    assert (talk.read_bytes(), talk.stat().st_mtime_ns) == before
    assert sorted(talk.parent.iterdir()) == sorted([talk, *outputs_of("evening", talk.parent)])


def test_a_broken_talk_does_not_stop_the_others(talk: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    later = tmp_path / "later.txt"
    later.write_text(TALK, encoding="utf-8")
    out = tmp_path / "out"
    assert main(["convert", str(talk), str(tmp_path / "absent.vtt"), str(later), "-o", str(out)]) == 2
    printed = capsys.readouterr()
    assert sorted(out.iterdir()) == sorted(outputs_of("evening", out) + outputs_of("later", out))
    assert len(printed.err.splitlines()) == 1
    assert printed.err.startswith("lesson: ")
    assert "absent.vtt" in printed.err
    assert "later.pgn" in printed.out


def test_a_failed_conversion_leaves_older_outputs_as_they_were(talk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert main(["convert", str(talk), "-q"]) == 0
    before = {path: path.read_bytes() for path in talk.parent.iterdir()}
    monkeypatch.setattr(pipeline, "assemble", lambda *_: 1 / 0)
    assert main(["convert", str(talk), "-q"]) == 70
    assert {path: path.read_bytes() for path in talk.parent.iterdir()} == before


def test_two_talks_of_one_stem_are_refused(talk: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = tmp_path / "EVENING.srt"
    other.write_text("1\n00:00:00,000 --> 00:00:02,000\ne4 e5\n", encoding="utf-8")
    out = tmp_path / "out"
    assert main(["convert", str(talk), str(other), "-o", str(out)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not out.exists()


def test_one_talk_given_twice_is_refused(talk: Path, tmp_path: Path) -> None:
    assert main(["convert", str(talk), str(tmp_path / "." / "evening.txt")]) == 2
    assert list(tmp_path.iterdir()) == [talk]


@pytest.mark.parametrize("suffix", [output.suffix for output in OUTPUTS])
def test_an_output_that_would_replace_a_talk_is_refused(
    talk: Path, tmp_path: Path, suffix: str, capsys: pytest.CaptureFixture[str]
) -> None:
    victim = tmp_path / f"evening{suffix}"
    victim.write_text(TALK, encoding="utf-8")
    assert main(["convert", str(talk), str(victim)]) == 2
    assert victim.read_text(encoding="utf-8") == TALK
    assert sorted(tmp_path.iterdir()) == sorted([talk, victim])
    assert "-o" in capsys.readouterr().err


def test_a_talk_called_like_its_own_study_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "evening.pgn"
    path.write_text(TALK, encoding="utf-8")
    assert main(["convert", str(path)]) == 2
    assert path.read_text(encoding="utf-8") == TALK
    assert main(["convert", str(path), "-q", "-o", str(tmp_path / "out")]) == 0


@pytest.mark.parametrize(
    "arguments",
    [["nosuch"], ["convert"], ["convert", "--nosuch", "x"], ["convert", "x", "--comments", "some"], ["schema", "x"]],
)
def test_misuse_is_one_line_and_two(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("lesson: ")
    assert printed.err.count("\n") == 1


def test_no_command_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 2
    assert "convert" in capsys.readouterr().err


def test_a_fault_of_our_own_is_one_line_too(
    talk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("LESSON_TRACE", raising=False)
    monkeypatch.setattr(pipeline, "decode_talk", lambda talk, *_: {"no": 1}[talk.name])
    assert main(["convert", str(talk)]) == 70
    printed = capsys.readouterr()
    assert printed.err.startswith("lesson: ")
    assert printed.err.count("\n") == 1
    assert "Traceback" not in printed.err
    monkeypatch.setenv("LESSON_TRACE", "1")
    with pytest.raises(KeyError):
        main(["convert", str(talk)])


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the meeting point is a named pipe")
def test_control_c_ends_with_one_line(tmp_path: Path) -> None:
    """The talk is a pipe that nobody fills, so the program is certainly at work when the signal comes."""
    pipe = tmp_path / "endless.txt"
    os.mkfifo(pipe)
    command = [sys.executable, "-c", "import sys; from lesson.cli import main; sys.exit(main())", "convert", str(pipe)]
    process = subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    with pipe.open("w"):
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert out == ""
    assert err.strip().splitlines() == ["lesson: interrupted; files already written are whole"]
    assert list(tmp_path.iterdir()) == [pipe]


@pytest.mark.skipif(os.name == "nt", reason="such a name cannot exist there")
@pytest.mark.parametrize("name", ["two\nlines.txt", "bell\a\x1b[31m.txt", os.fsdecode(b"old-\xff.txt"), "[bold]x.txt"])
def test_strange_file_names_harm_nothing(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / name
    assert main(["convert", str(path)]) == 2
    missing = capsys.readouterr().err
    path.write_text(TALK, encoding="utf-8")
    assert main(["convert", str(path)]) == 0
    assert all(output.exists() for output in outputs_of(path.stem, tmp_path))
    printed = missing + capsys.readouterr().out
    assert missing.count("\n") == 1
    assert not set(printed) & {"\x1b", "\a", "\r"}
