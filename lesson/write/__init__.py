"""One writer per output. To add one: a function Lesson -> str in a file of its own, and a line in OUTPUTS."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lesson.errors import WriteError
from lesson.model import Lesson
from lesson.write.files import write_whole
from lesson.write.json import json_text, schema_text
from lesson.write.pgn import Comments, pgn_text
from lesson.write.unresolved import unresolved_text

__all__ = ["OUTPUTS", "Output", "PgnOptions", "json_text", "pgn_text", "schema_text", "unresolved_text", "write_files"]


@dataclass(frozen=True, slots=True)
class PgnOptions:
    """How much of the talk the PGN's comments hold, and the study's title (None: the name of the talk)."""

    comments: Comments = "full"
    title: str | None = None


@dataclass(frozen=True, slots=True)
class Output:
    """A file written for every talk: its name is the talk's stem and `suffix`."""

    suffix: str
    text: Callable[[Lesson, PgnOptions], str]


OUTPUTS = (
    Output(".pgn", lambda lesson, options: pgn_text(lesson, options.comments, options.title)),
    Output(".lesson.json", lambda lesson, _: json_text(lesson)),
    Output(".unresolved.md", lambda lesson, _: unresolved_text(lesson)),
)


def write_files(lesson: Lesson, stem: str, folder: Path, options: PgnOptions | None = None) -> tuple[Path, ...]:
    """Write every output as `folder/stem + suffix` and return the paths in the order of OUTPUTS.

    `folder` is made where it is missing. All texts are made before the first file is touched. Raises WriteError.
    """
    options = options or PgnOptions()
    texts = [(folder / f"{stem}{output.suffix}", output.text(lesson, options)) for output in OUTPUTS]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WriteError(f"{folder}: cannot be made a folder ({error.strerror}); name another one with -o") from error
    for path, text in texts:
        write_whole(path, text)
    return tuple(path for path, _ in texts)
