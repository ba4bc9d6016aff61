"""README.md and DEVELOPERS.md say what is true: each promise that can be executed is executed here."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import click
import pytest

from lesson.cli import cli
from lesson.read import FORMATS
from lesson.settings import MAX_FILE_BYTES, MAX_WORDS
from lesson.write import OUTPUTS
from tests.readme import command_lines, examples, shown

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_there_are_two_command_lines() -> None:
    setup = "python3 -m venv .venv && .venv/bin/pip install"
    assert len(command_lines()) == 2
    assert all(line.startswith(setup) for line in command_lines())


def test_contributors_are_told_the_same_command() -> None:
    assert command_lines()[1] in DEVELOPERS


def test_the_first_paragraph_states_the_job() -> None:
    title, paragraph = README.split("\n\n")[:2]
    assert title == "# lesson"
    assert all(word in paragraph for word in ("teacher", "talk", "transcript", "PGN"))


def test_the_examples_are_what_the_program_does_today() -> None:
    """On a wanted change, `python -m tests.readme renew` rewrites the examples; look at them before committing."""
    assert {language: shown(language) for language in ("text", "pgn", "console")} == examples()


def manual_gaps(group: click.Group, manual: str) -> list[str]:
    """Commands and options of `group` that `manual` does not name in a heading and in code marks."""
    gaps = [name for name in group.commands if not re.search(rf"^### `lesson {name}\b", manual, flags=re.MULTILINE)]
    for command in (group, *group.commands.values()):
        for parameter in command.params:
            names = [*parameter.opts, *parameter.secondary_opts] if isinstance(parameter, click.Option) else []
            gaps += [name for name in names if not re.search(rf"`(lesson )?{name}\b", manual)]
    return gaps


def test_every_command_and_option_is_in_the_manual() -> None:
    assert manual_gaps(cli, README) == []


def test_a_command_missing_from_the_manual_is_noticed() -> None:
    @click.command()
    @click.option("--louder", help="Say it louder.")
    def sing(louder: str) -> None:
        """Sing."""

    assert manual_gaps(click.Group(commands={**cli.commands, "sing": sing}), README) == ["sing", "--louder"]


def test_the_manual_names_no_command_that_does_not_exist() -> None:
    named = set(re.findall(r"^### `lesson (\w+)", README, flags=re.MULTILINE))
    assert named == set(cli.commands)


def test_every_format_and_output_is_in_the_manual() -> None:
    assert [row.name for row in FORMATS if f"| `{row.name}` |" not in README] == []
    assert [output.suffix for output in OUTPUTS if f"`evening{output.suffix}`" not in README] == []


def test_the_limits_of_the_manual_are_those_of_the_program() -> None:
    assert f"over {MAX_FILE_BYTES >> 20} MB or {MAX_WORDS:,} words".replace(",", " ") in README


def test_the_exit_codes_of_the_manual_are_those_of_the_program() -> None:
    import lesson.cli

    table = {int(code) for code in re.findall(r"^\| (\d+) \|", README, flags=re.MULTILINE)}
    assert table == {value for name, value in vars(lesson.cli).items() if name.startswith("EXIT_")}


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_path_named_in_code_marks_exists(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    paths = re.findall(r"`((?:lesson|tests|grammars|shared|samples|\.ci)/[\w./-]*)`", text)
    assert paths
    assert [path for path in paths if not (ROOT / path).exists()] == []


def test_no_file_names_a_place_of_the_machine_it_was_written_on() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split(
        "\n"
    )
    suspicious = re.compile(r"(^|[\s\"'(=:`])/(home|root|work|tmp|Users)/\w")
    text_files = [
        name for name in listed if name.endswith((".py", ".md", ".toml", ".json", ".txt")) or name == ".ci/run"
    ]
    found = [
        f"{name}:{number}"
        for name in text_files
        if (ROOT / name).is_file()
        for number, line in enumerate((ROOT / name).read_text(encoding="utf-8").splitlines(), 1)
        if suspicious.search(line)
    ]
    assert found == []
