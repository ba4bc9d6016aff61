"""`python -m lesson.learn TALKS...`: learn shared/sounds.json and shared/weights.json from marked talks.

Three steps, all deterministic: count the confusions of sounds, fit the weights to the forced alignments, and learn how
sure a step is from talks decoded with tables that never saw them. Those tables stay in the folder `--folds`, for honest
measuring.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from multiprocessing import Pool
from pathlib import Path

import click

from lesson.decode.weights import read_weights
from lesson.hear import hear_talk
from lesson.hear.sounds import Sounds, read_sounds
from lesson.learn.counts import count_sounds
from lesson.learn.forced import Forced
from lesson.learn.marked import Marked, load_marked
from lesson.learn.optimise import Data, fit_weights
from lesson.learn.trust import Trial, fit_trust, trials
from lesson.write.files import write_whole

Table = dict[str, float]


def learn(talks: Sequence[Sequence[Marked]]) -> tuple[Sounds, Table]:
    """Sounds and weights from talks, each given in all its transcripts."""
    sounds = count_sounds([m for talk in talks for m in talk])
    data = Data([[e for m in talk for e in Forced(m, hear_talk(m.talk, sounds)).run()] for talk in talks])
    return sounds, dict(zip(data.names, map(float, fit_weights(data)), strict=True))


def save(folder: Path, stem: str, sounds: Sounds, weights: Table, trust: Table | None = None) -> None:
    """Writes `<stem>sounds.json` and `<stem>weights.json`, whole or not at all."""
    tables = {"letters": sounds.letters, "digits": sounds.digits, "squares": sounds.squares, "before": sounds.before}
    write_whole(folder / f"{stem}sounds.json", json.dumps(tables, indent=0, sort_keys=True) + "\n")
    kept = {name: round(value, 4) for name, value in sorted(weights.items()) if abs(value) >= 0.002}
    both = {"trust": trust or {}, "weights": kept}
    write_whole(folder / f"{stem}weights.json", json.dumps(both, indent=0) + "\n")


def _fold(task: tuple[list[Path], Path, Path, str]) -> str:
    folders, without, out, stem = task
    talks = [list(load_marked(folder)) for folder in folders if folder != without]
    save(out, stem, *learn(talks))
    return stem or "all talks"


def _trials(task: tuple[Path, Path]) -> tuple[str, list[Trial]]:
    """The steps of one talk, decoded with the tables that never saw it."""
    folder, folds = task
    weights = read_weights(folds / f"{folder.name}.weights.json")
    sounds = read_sounds(folds / f"{folder.name}.sounds.json")
    return folder.name, [t for m in load_marked(folder) for t in trials(m, weights, sounds)]


@click.command()
@click.argument("talks", nargs=-1, required=True, type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--out", default=Path("shared"), type=click.Path(path_type=Path), help="Where the tables go.")
@click.option(
    "--folds",
    required=True,
    type=click.Path(path_type=Path),
    help="Where tables go that were learned without one talk, for every talk heard by a recogniser.",
)
@click.option("--jobs", default=os.cpu_count() or 1, show_default=True, help="Processes.")
def main(talks: tuple[Path, ...], out: Path, folds: Path, jobs: int) -> None:
    """Learn the tables of shared/ from TALKS, folders of marked talks (or folders that hold such folders)."""
    folders = sorted({f.parent for talk in talks for f in talk.rglob("spans.json")})
    heard = [f for f in folders if any(f.glob("heard-*.json"))]
    folds.mkdir(parents=True, exist_ok=True)
    tasks = [(folders, Path(), out, "")] + [(folders, f, folds, f"{f.name}.") for f in heard]
    with Pool(min(jobs, len(tasks))) as pool:
        for done in pool.imap_unordered(_fold, tasks):
            click.echo(f"learned: {done}", err=True)
        found = dict(pool.imap_unordered(_trials, [(f, folds) for f in heard]))
    for folder, stem in [(out, "")] + [(folds, f"{f.name}.") for f in heard]:
        others = [t for name in sorted(found) if f"{name}." != stem for t in found[name]]
        tables = read_weights(folder / f"{stem}weights.json"), read_sounds(folder / f"{stem}sounds.json")
        save(folder, stem, tables[1], tables[0].table, fit_trust(others))


if __name__ == "__main__":
    main()
