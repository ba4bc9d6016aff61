"""The command line: the only place that prints and chooses exit codes.

Start-up imports click and nothing of the stages, so that `lesson --help` answers at once.
"""

from __future__ import annotations

import io
import os
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lesson import __version__
from lesson.errors import LessonError, UsageError

if TYPE_CHECKING:
    from lesson.check.engine import Engine
    from lesson.model import Finding
    from lesson.pipeline import ConvertResult, Progress
    from lesson.write.pgn import Comments

EXIT_OK = 0
EXIT_FOUND = 1
EXIT_USER = 2
EXIT_FAULT = 70  # EX_SOFTWARE of sysexits.h: the program itself is wrong
EXIT_INTERRUPTED = 130  # 128 + SIGINT, as shells report it

_SHOWN_NOTES = 3

Stamps = list[tuple[int, int] | None]
"""When each file was last written and how long it is; None where it is missing."""


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="lesson %(version)s")
def cli() -> None:
    """From a recorded chess talk's transcript to an annotated PGN study, with a list of what stayed unresolved."""


_prepared_option = click.option(
    "--prepared",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Your own analysis, a PGN file: its moves are heard more readily, and the talk is compared with it.",
)


def _engine_options(command: Callable[..., None]) -> Callable[..., None]:
    """The options of the commands that can ask an engine."""
    nodes = click.option(
        "--engine-nodes",
        "nodes",
        metavar="N",
        type=click.IntRange(1, 10**9),
        help="Positions the engine looks at for each answer; 100000 without it.",
    )
    path = click.option(
        "--engine",
        metavar="PATH",
        type=click.Path(path_type=Path),
        help="A UCI engine, to compare verdicts and advice with its evaluations.",
    )
    return path(nodes(command))


@cli.command()
@click.argument("talks", metavar="TALK...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    "out_dir",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Folder for the files written; made if missing. Without it they go beside each talk.",
)
@click.option("--format", "format_", metavar="F", help="Format of the talks, where the content misleads.")
@click.option(
    "--comments",
    type=click.Choice(["full", "brief", "none"]),
    default="full",
    show_default=True,
    help="How much of what was said goes into the PGN; the other files always hold every word.",
)
@click.option(
    "--corrections",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="File of corrections for the one TALK, in place of the one that lies beside it.",
)
@_prepared_option
@click.option("--title", metavar="T", help="Title of the study, in place of the talk's file name.")
@_engine_options
@click.option("-q", "--quiet", is_flag=True, help="No progress and no summary; errors are still reported.")
def convert(
    talks: tuple[Path, ...],
    out_dir: Path | None,
    format_: str | None,
    comments: Comments,
    corrections: Path | None,
    prepared: Path | None,
    title: str | None,
    engine: Path | None,
    nodes: int | None,
    quiet: bool,
) -> None:
    """Turn each TALK, a transcript file, into a PGN study, a lesson file and a list of unresolved phrases."""
    from lesson import pipeline
    from lesson.write import PgnOptions

    if corrections is not None and len(talks) > 1:
        raise UsageError(f"--corrections belongs to one talk, not {len(talks)}; convert them one at a time")
    pipeline.refuse_collisions(talks, out_dir)
    options = PgnOptions(comments=comments, title=title)
    asked = _engine(engine, nodes)
    results: list[ConvertResult] = []
    broken = 0
    with _progress_bars(quiet) as bars:
        for path in talks:
            progress = bars(path)
            try:
                result = pipeline.convert(path, out_dir, format_, options, progress, corrections, asked, prepared)
                results.append(result)
            except (LessonError, OSError) as error:
                progress("failed", 0)
                broken += 1
                _complain(error)
    if not quiet:
        for result in results:
            _summarise(result)
    if broken:
        raise click.exceptions.Exit(EXIT_USER)


@cli.command()
@click.argument("talk", metavar="TALK", type=click.Path(path_type=Path))
@click.option("--media", metavar="FILE", type=click.Path(path_type=Path), help="The recording, to hear each phrase.")
@click.option("--port", metavar="N", type=click.IntRange(0, 65535), default=0, help="Port of the page; 0 takes any.")
@_prepared_option
@click.option("--no-browser", is_flag=True, help="Only print the page's address.")
@click.option("--terminal", is_flag=True, help="Ask the open questions here, one by one, in place of the page.")
@click.option("--format", "format_", metavar="F", help="Format of the talk, where the content misleads (--terminal).")
def review(
    talk: Path,
    media: Path | None,
    port: int,
    prepared: Path | None,
    no_browser: bool,
    terminal: bool,
    format_: str | None,
) -> None:
    """Put right what was misheard in TALK; every answer is saved at once in TALK's file of corrections."""
    if not terminal:
        from lesson.review.app import serve

        if format_ is not None:
            raise UsageError("--format goes with --terminal; the page finds the format from the content")
        serve(talk, media, port, not no_browser, prepared=prepared)
        return
    if media is not None:
        raise UsageError("--media is for the page; leave --terminal out to hear the recording")
    from lesson.review.terminal import Dialogue

    def say(text: str) -> None:
        click.echo("\n".join("".join(c if c.isprintable() else " " for c in line) for line in text.split("\n")))

    def ask(prompt: str) -> str:
        try:
            return input(prompt)
        except EOFError:
            return "quit"

    Dialogue(talk, format_, ask, say, prepared).run()


@cli.command()
@click.argument("scripts", metavar="SCRIPT...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--format",
    "report",
    type=click.Choice(["text", "json", "sarif"]),
    default="text",
    show_default=True,
    help="How the faults are written: a line each, JSON, or SARIF 2.1.0.",
)
@click.option("--only", metavar="KINDS", help="Kinds of fault to report, with commas between.")
@click.option("--skip", metavar="KINDS", help="Kinds of fault to leave out, with commas between.")
@click.option("--input-format", "format_", metavar="F", help="Format of the scripts, where the content misleads.")
@_engine_options
@click.option("--watch", is_flag=True, help="Check again whenever a SCRIPT is saved, until Ctrl-C.")
def check(
    scripts: tuple[Path, ...],
    report: str,
    only: str | None,
    skip: str | None,
    format_: str | None,
    engine: Path | None,
    nodes: int | None,
    watch: bool,
) -> None:
    """Check each SCRIPT, a talk not yet recorded, for moves that cannot be played and claims that are not so."""
    from lesson.check.fault import chosen
    from lesson.check.report import REPORTS
    from lesson.check.script import Finding as Found
    from lesson.check.script import check_script

    kinds = chosen(only, skip)

    def once() -> int:
        found: list[Found] = []
        broken = 0
        asked = _engine(engine, nodes)
        for path in scripts:
            try:
                found += check_script(path, format_, kinds, asked)
            except (LessonError, OSError) as error:
                broken += 1
                _complain(error)
        click.echo(REPORTS[report](found), nl=False)
        return EXIT_USER if broken else EXIT_FOUND if any(f.fault.severity == "error" for f in found) else EXIT_OK

    before = _stamps(scripts)
    status = once()
    if watch:
        for _ in _saved(scripts, before):
            click.echo(f"-- {len(scripts)} read again", err=True)
            once()
    if status:
        raise click.exceptions.Exit(status)


@cli.command()
@click.option(
    "--of",
    type=click.Choice(["lesson", "corrections"]),
    default="lesson",
    show_default=True,
    help="Which file the schema describes.",
)
def schema(of: str) -> None:
    """Print the JSON Schema of the lesson file or of the file of corrections."""
    from lesson.corrections import corrections_schema_text
    from lesson.write import schema_text

    click.echo(corrections_schema_text() if of == "corrections" else schema_text(), nl=False)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code. A user sees one line for what went wrong, never a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        status = cli.main(arguments, prog_name="lesson", standalone_mode=False)
        sys.stdout.flush()
    except (click.Abort, KeyboardInterrupt):
        click.echo("lesson: interrupted; files already written are whole", err=True)
        return EXIT_INTERRUPTED
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message(), err=True)
        return EXIT_USER
    except click.ClickException as error:
        _complain(UsageError(error.format_message()))
        return EXIT_USER
    except BrokenPipeError:
        # The reader of our output left; whatever Python still holds for it must not raise again at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_OK
    except (LessonError, OSError) as error:
        _complain(error)
        return EXIT_USER
    except Exception as error:
        _confess(error)
        return EXIT_FAULT
    return status if isinstance(status, int) else EXIT_OK


def _engine(path: Path | None, nodes: int | None) -> Engine | None:
    """The engine to ask, with the time of a whole run before it. Raises UsageError."""
    if path is None:
        if nodes is not None:
            raise UsageError("--engine-nodes goes with --engine; name the engine")
        return None
    from lesson.check.engine import Engine

    return Engine(path) if nodes is None else Engine(path, nodes)


def _saved(paths: Sequence[Path], seen: Stamps, pause_s: float = 0.5) -> Iterator[None]:
    """Yield whenever one of the files is no longer as it was `seen`; never ends."""
    while True:
        if (now := _stamps(paths)) != seen:
            seen = now
            yield
        time.sleep(pause_s)


def _stamps(paths: Sequence[Path]) -> Stamps:
    return [(s.st_mtime_ns, s.st_size) if (s := _stat(path)) else None for path in paths]


def _stat(path: Path) -> os.stat_result | None:
    try:
        return path.stat()
    except OSError:
        return None


@contextmanager
def _progress_bars(quiet: bool) -> Iterator[Callable[[Path], Progress]]:
    """Yield a function that starts a bar for one talk and returns the callback that moves it."""
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    from lesson.pipeline import STAGES

    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[stage]}"), TimeElapsedColumn())
    with Progress(*columns, console=console, disable=quiet or not console.is_terminal) as bars:

        def start(path: Path) -> Callable[[str, int], None]:
            task = bars.add_task(escape(_one_line(path.name)), total=len(STAGES), stage="")

            def move(stage: str, done: int) -> None:
                bars.update(task, completed=done, stage=stage, refresh=True)

            return move

        yield start


def _summarise(result: ConvertResult) -> None:
    counts, lesson = result.counts, result.lesson
    length = f"{_minutes(counts.duration_ms)} of talk, " if counts.duration_ms else ""
    rows = [
        ("chapters", str(counts.chapters)),
        ("moves", f"{counts.spoken} heard, {counts.unspoken} not said, {counts.flagged} flagged"),
        ("mentions", f"{counts.mentions} spoken of, not played"),
        ("unresolved", str(counts.unresolved)),
    ]
    notes = [_timed(finding) for finding in lesson.findings]
    rows += [("note", note) for note in notes[:_SHOWN_NOTES]]
    if len(notes) > _SHOWN_NOTES:
        rows.append(("", f"and {len(notes) - _SHOWN_NOTES} more in the lesson file"))
    rows += [("wrote" if i == 0 else "", str(path)) for i, path in enumerate(result.files)]
    click.echo(_one_line(f"{lesson.name}: {length}{counts.words} words"))
    for label, text in rows:
        click.echo(f"  {label:<12}{_one_line(text)}")


def _timed(finding: Finding) -> str:
    return finding.message if finding.start_ms is None else f"{_minutes(finding.start_ms)} {finding.message}"


def _minutes(duration_ms: int) -> str:
    minutes, seconds = divmod(duration_ms // 1000, 60)
    return f"{minutes}:{seconds:02}"


def _complain(error: Exception) -> None:
    text = str(error)
    if isinstance(error, OSError) and error.strerror:
        text = f"{error.filename}: {error.strerror}" if error.filename else error.strerror
    click.echo(f"lesson: {_one_line(text)}", err=True)


def _confess(error: Exception) -> None:
    if os.environ.get("LESSON_TRACE"):
        raise error
    what = _one_line(f"{type(error).__name__}: {error}")
    click.echo(f"lesson: a fault of the program itself ({what}); LESSON_TRACE=1 shows where", err=True)


def _one_line(text: str) -> str:
    """`text` without line breaks and without characters that would steer a terminal."""
    return "".join(c if c.isprintable() else " " for c in " ".join(text.split()))


if __name__ == "__main__":
    sys.exit(main())
