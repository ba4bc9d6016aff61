"""The list of the stages, in order. Nothing else in the project knows more than one of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lesson.assemble import assemble
from lesson.check.doubted import doubted
from lesson.check.engine import Engine
from lesson.check.findings import checked
from lesson.check.prepared import compared
from lesson.corrections import Applied, Corrections, apply, corrections_path, read_corrections, settled, unmet_flaws
from lesson.decode import Reader, decode
from lesson.errors import UsageError
from lesson.model import Decoded, Fact, Lesson, Sides, Talk
from lesson.read import read_talk
from lesson.read.prepared import Prepared, read_prepared
from lesson.write import OUTPUTS, PgnOptions, write_files

STAGES = ("read", "hear and decode", "assemble", "check", "write")

Progress = Callable[[str, int], None]
"""Told the name of the stage that begins and how many of STAGES are done."""


@dataclass(frozen=True, slots=True)
class Counts:
    """What a lesson holds, for the summary. `spoken` moves were said, `unspoken` ones were filled in or named."""

    words: int
    duration_ms: int
    chapters: int
    spoken: int
    unspoken: int
    flagged: int
    mentions: int
    unresolved: int


@dataclass(frozen=True, slots=True)
class ConvertResult:
    """What `convert` did: the lesson it made and the files it wrote, in the order of OUTPUTS."""

    lesson: Lesson
    counts: Counts
    files: tuple[Path, ...]


def _silent(stage: str, done: int) -> None:
    pass


def decode_talk(
    talk: Talk,
    facts: Sequence[Fact] = (),
    prepared: Prepared | None = None,
    sides: Sides | None = None,
) -> Decoded:
    """Hear and decode: the told tree that explains the words of `talk` best and in which `facts` hold, moves that are
    `prepared` being likely, and so are those of the side that `sides` gives to "we", "i" or "he".

    Raises DataError on broken data files.
    """
    return decode(talk, facts=facts, prepared=prepared.moves if prepared is not None else None, sides=sides)


def make_lesson(
    path: Path,
    format: str | None = None,
    progress: Progress = _silent,
    corrections: Path | None = None,
    engine: Engine | None = None,
    prepared: Path | None = None,
) -> Lesson:
    """The lesson in the talk file `path`; `format` overrules what the content suggests.

    `corrections` is the file of corrections; None: the one beside the talk, if there is one. `engine` is asked what it
    thinks of verdicts and advice. `prepared` is the teacher's own analysis, a PGN file: its moves are taken to be
    likely, and the talk is compared with it. Raises ReadError when the file is no transcript or the analysis cannot be
    read, DataError when the corrections are broken, UsageError when `format` is unknown or there are no `corrections`.
    """
    if corrections is not None and not corrections.exists():
        raise UsageError(f"{corrections}: there is no such file of corrections; leave --corrections out to do without")
    progress(STAGES[0], 0)
    own = read_prepared(prepared) if prepared is not None else None
    talk = read_talk(path, format)
    said = read_corrections(corrections or corrections_path(path))
    progress(STAGES[1], 1)
    applied, decoded = decode_corrected(talk, said, own)
    progress(STAGES[2], 2)
    lesson = assemble(applied.talk, decoded)
    progress(STAGES[3], 3)
    return _beside(checked(lesson, applied.talk, decoded, engine), own, applied.talk, decoded)


def decode_corrected(talk: Talk, corrections: Corrections, prepared: Prepared | None = None) -> tuple[Applied, Decoded]:
    """`talk` with `corrections` in place, and the told tree that explains it best with what they say as facts.

    A correction that found no words, or that no position allows, is a flaw of the talk returned.
    """
    applied = apply(talk, corrections)
    return _settled(applied, decode_talk(applied.talk, applied.facts, prepared, applied.sides))


def _settled(applied: Applied, decoded: Decoded) -> tuple[Applied, Decoded]:
    decoded = doubted(settled(decoded, applied), [word.text for word in applied.talk.words])
    flaws = (*applied.talk.flaws, *unmet_flaws(applied, decoded))
    return replace(applied, talk=replace(applied.talk, flaws=flaws)), decoded


class Rereader:
    """Makes the lesson of one talk again and again, as corrections come; what they leave as it was is not decoded anew.
    `prepared` is the teacher's own analysis. `between` is told all the time which word is being read; what it raises
    gives the reading up."""

    def __init__(self, prepared: Prepared | None = None) -> None:
        self.prepared = prepared
        self.between: Callable[[int], None] | None = None
        self._reader = Reader(prepared.moves if prepared is not None else None)

    def lesson(self, talk: Talk, corrections: Corrections) -> tuple[Lesson, Applied]:
        """The lesson in `talk` with `corrections`, and where each of them was found, as at a first reading."""
        applied = apply(talk, corrections)
        return self._made(applied, self._reader.read(applied.talk, applied.facts, self.between, applied.sides))

    def glance(self, talk: Talk, corrections: Corrections) -> tuple[Lesson, Applied, int] | None:
        """What the lesson may become, at once, and the first word from which on it has not been read again. None before
        there is any lesson."""
        applied = apply(talk, corrections)
        found = self._reader.glance(applied.talk, applied.facts, applied.sides)
        return None if found is None else (*self._made(applied, found.decoded), found.until)

    def _made(self, applied: Applied, decoded: Decoded) -> tuple[Lesson, Applied]:
        applied, decoded = _settled(applied, decoded)
        lesson = checked(assemble(applied.talk, decoded), applied.talk, decoded)
        return _beside(lesson, self.prepared, applied.talk, decoded), applied


def _beside(lesson: Lesson, prepared: Prepared | None, talk: Talk, decoded: Decoded) -> Lesson:
    """The lesson with what the talk left out of the analysis, and went beyond."""
    if prepared is None:
        return lesson
    return lesson.model_copy(update={"findings": (*lesson.findings, *compared(prepared, decoded, talk))})


def convert(
    path: Path,
    out_dir: Path | None = None,
    format: str | None = None,
    options: PgnOptions | None = None,
    progress: Progress = _silent,
    corrections: Path | None = None,
    engine: Engine | None = None,
    prepared: Path | None = None,
) -> ConvertResult:
    """Make the lesson of the talk file `path` and write every output into `out_dir` (None: the talk's own folder).

    `corrections`, `engine` and `prepared` as in `make_lesson`. All texts are made before the first file is touched.
    Raises LessonError, and then nothing was replaced half-way.
    """
    refuse_collisions([path], out_dir)
    lesson = make_lesson(path, format, progress, corrections, engine, prepared)
    progress(STAGES[4], 4)
    files = write_files(lesson, path.stem, out_dir or path.parent, options or PgnOptions())
    progress("done", len(STAGES))
    return ConvertResult(lesson, count(lesson), files)


def count(lesson: Lesson) -> Counts:
    """The figures of the summary."""
    moves = [move for chapter in lesson.chapters for move in chapter.moves]
    spoken = sum(1 for move in moves if move.words[1] > move.words[0])
    return Counts(
        words=len(lesson.words),
        duration_ms=lesson.duration_ms,
        chapters=len(lesson.chapters),
        spoken=spoken,
        unspoken=len(moves) - spoken,
        flagged=sum(move.flagged for move in moves),
        mentions=len(lesson.mentions),
        unresolved=len(lesson.unresolved),
    )


def output_paths(path: Path, out_dir: Path | None = None) -> tuple[Path, ...]:
    """Where `convert` puts the outputs of the talk file `path`."""
    folder = out_dir or path.parent
    return tuple(folder / f"{path.stem}{output.suffix}" for output in OUTPUTS)


def refuse_collisions(paths: Iterable[Path], out_dir: Path | None = None) -> None:
    """Raise UsageError when converting `paths` would write over one of them, or write one file for two of them.

    File names are compared without regard to case, because some file systems do.
    """
    paths = tuple(paths)
    inputs = {_identity(path) for path in paths}
    owners: dict[str, Path] = {}
    for path in paths:
        for output in output_paths(path, out_dir):
            key = _identity(output)
            if key in inputs:
                raise UsageError(f"{output}: writing it would replace that talk; name another folder with -o")
            if key in owners:
                raise UsageError(
                    f"{owners[key]} and {path} would both become {output}; convert them into different folders"
                )
            owners[key] = path


def _identity(path: Path) -> str:
    return str(path.resolve()).casefold()
