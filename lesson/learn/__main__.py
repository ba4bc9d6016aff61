"""`python -m lesson.learn TALKS...`: learn shared/sounds.json and shared/weights.json from marked talks.

Two steps, both deterministic: count the confusions of sounds, fit the weights to the forced alignments.
With `--folds DIR` every talk also gets tables learned without it, for honest measuring.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from multiprocessing import Pool
from pathlib import Path

import click

from lesson.hear import hear_talk
from lesson.hear.sounds import Sounds
from lesson.learn.counts import count_sounds
from lesson.learn.forced import Forced
from lesson.learn.marked import Marked, load_marked
from lesson.learn.optimise import Data, fit_weights
from lesson.write.files import write_whole

Table = dict[str, float]


def learn(talks: Sequence[Sequence[Marked]]) -> tuple[Sounds, Table]:
    """Sounds and weights from talks, each given in all its transcripts."""
    sounds = count_sounds([m for talk in talks for m in talk])
    data = Data([[e for m in talk for e in Forced(m, hear_talk(m.talk, sounds)).run()] for talk in talks])
    return sounds, dict(zip(data.names, map(float, fit_weights(data)), strict=True))


def save(folder: Path, stem: str, sounds: Sounds, weights: Table) -> None:
    """Writes `<stem>sounds.json` and `<stem>weights.json`, whole or not at all."""
    tables = {"letters": sounds.letters, "digits": sounds.digits, "squares": sounds.squares, "before": sounds.before}
    write_whole(folder / f"{stem}sounds.json", json.dumps(tables, indent=0, sort_keys=True) + "\n")
    kept = {name: round(value, 4) for name, value in sorted(weights.items()) if abs(value) >= 0.002}
    write_whole(folder / f"{stem}weights.json", json.dumps({"weights": kept}, indent=0) + "\n")


def _fold(task: tuple[list[Path], Path, Path, str]) -> str:
    folders, without, out, stem = task
    talks = [list(load_marked(folder)) for folder in folders if folder != without]
    save(out, stem, *learn(talks))
    return stem or "all talks"


@click.command()
@click.argument("talks", nargs=-1, required=True, type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--out", default=Path("shared"), type=click.Path(path_type=Path), help="Where the tables go.")
@click.option(
    "--folds", type=click.Path(path_type=Path), help="Also learn without each talk in turn, into this folder."
)
@click.option("--jobs", default=os.cpu_count() or 1, show_default=True, help="Processes for the folds.")
def main(talks: tuple[Path, ...], out: Path, folds: Path | None, jobs: int) -> None:
    """Learn the tables of shared/ from TALKS, folders of marked talks (or folders that hold such folders)."""
    folders = sorted({f.parent for talk in talks for f in talk.rglob("spans.json")})
    tasks = [(folders, Path(), out, "")]
    if folds is not None:
        folds.mkdir(parents=True, exist_ok=True)
        tasks += [(folders, folder, folds, f"{folder.name}.") for folder in folders]
    with Pool(min(jobs, len(tasks))) as pool:
        for done in pool.imap_unordered(_fold, tasks):
            click.echo(f"learned: {done}", err=True)


if __name__ == "__main__":
    main()
