"""`python -m lesson.learn TALKS...`: learn the tables of shared/ from marked talks.

Four steps, all deterministic: count the confusions of sounds, learn the network that guesses what a phrase does from
the run of the talk, fit the weights to the forced alignments, and learn how sure a step is from talks decoded with
tables that never saw them. Those tables stay in the folder `--folds`, for honest
measuring. (They are learned without the talk and a fifth of the others; only the sounds, with which the other talks'
phrases are heard, are those of all.)
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from multiprocessing import Pool
from pathlib import Path
from typing import TypeVar

import click
import numpy as np

from lesson.decode.weights import Weights, read_weights
from lesson.hear import hear_talk
from lesson.hear.gist import KINDS, Gist, parse_gist
from lesson.hear.phrases import Phrase
from lesson.hear.sounds import Sounds, read_sounds
from lesson.learn.counts import count_sounds
from lesson.learn.forced import DEFAULTS, Forced
from lesson.learn.gist import Taught, learn_gist, taught_by, to_bytes, with_odds
from lesson.learn.marked import Marked, load_marked
from lesson.learn.noisy import NOISY, count_hearings, noisy
from lesson.learn.optimise import Data, Packed, fit_weights, pack
from lesson.learn.trust import Trial, fit_trust, trials
from lesson.learn.unsaid import moves_told
from lesson.write.files import write_whole

_HEARD = ("heard-a", "heard-b")
_MADE = (("heard-a", "heard-a"), ("heard-b", "heard-b"), ("captions", "heard-a"))  # what is made, and of which hearing
_TRIED = ("exact", "heard-a", "heard-b")  # captions are a recogniser's words without their stops: nothing new
PARTS = 5  # of the talks; what a network guesses of a talk is asked of one that has not seen its part
_OPEN = (0.0,) * len(KINDS)
Table = dict[str, float]
Result = TypeVar("Result")


def examples(talk: Sequence[Marked], sounds: Sounds, weights: Weights) -> tuple[Packed, list[Taught]]:
    """What could have been done at every phrase of a talk's transcripts, and what was; before that, what was played.
    And the same for the network, which learns from it; its own guesses are not known yet, and left open."""
    out, taught = moves_told(talk[0]), []
    for marked in talk:
        items = [replace(i, gist=_OPEN) if isinstance(i, Phrase) else i for i in hear_talk(marked.talk, sounds)]
        forced = Forced(marked, items, weights)
        out += forced.run()
        words = [word.text for word in marked.talk.words]
        taught.append(taught_by(marked.name, words, items, forced.taught))
    return pack(out), taught


def guessed(group: tuple[Packed, list[Taught]], gist: Gist) -> Packed:
    """The examples of a talk with the guesses of a network that has not seen it."""
    packed, taught = group
    odds = [gist.odds(gist.run_of(t.text))[t.items] for t in taught]
    before = len(packed.candidates) - sum(map(len, odds))
    return with_odds(packed, np.concatenate([np.zeros((before, len(KINDS)), np.float32), *odds]))


def transcripts(folders: Sequence[Path]) -> list[list[Marked]]:
    """All transcripts of every talk; of those no recogniser has heard, some that one might have made."""
    talks = [list(load_marked(folder)) for folder in folders]
    heard = {v: count_hearings([m for talk in talks for m in talk if m.version == v]) for v in _HEARD}
    for folder, talk in zip(folders, talks, strict=True):
        if len(talk) == 1:
            talk += [noisy(folder, heard[v], made) for made, v in _MADE if heard[v]]
    return talks


def likely_moves(talks: Sequence[Sequence[Marked]]) -> Table:
    """How likely a move is before anyone says it; needed to offer moves left unsaid while examples are gathered."""
    return fitted(Data([pack(moves_told(talk[0])) for talk in talks], least=1))


def fitted(data: Data, without: int | None = None) -> Table:
    """The weights fitted to all talks but those of one part, by feature."""
    unseen = frozenset(k for k in range(data.talks) if k % PARTS == without)
    return dict(zip(data.names, map(float, fit_weights(data, unseen)), strict=True))


def save(folder: Path, stem: str, sounds: Sounds, weights: Table, trust: Table | None = None) -> None:
    """Writes `<stem>sounds.json` and `<stem>weights.json`, each whole or not at all."""
    tables = {"letters": sounds.letters, "digits": sounds.digits, "squares": sounds.squares, "before": sounds.before}
    write_whole(folder / f"{stem}sounds.json", json.dumps(tables, indent=0, sort_keys=True) + "\n")
    kept = {name: round(value, 4) for name, value in sorted(weights.items()) if abs(value) >= 0.002}
    both = {"trust": trust or {}, "weights": kept}
    write_whole(folder / f"{stem}weights.json", json.dumps(both, indent=0) + "\n")


def _really_heard(talks: Iterable[Sequence[Marked]]) -> list[Marked]:
    return [m for talk in talks for m in talk if m.talk.format != NOISY]


class _Work:
    """What the processes share; set before they are started."""

    talks: Sequence[Sequence[Marked]] = ()
    sounds: Sounds
    guess: Weights
    data: Data
    groups: Sequence[tuple[Packed, list[Taught]]] = ()


def _examples(number: int) -> tuple[Packed, list[Taught]]:
    return examples(_Work.talks[number], _Work.sounds, _Work.guess)


def _gist(without: int | None) -> bytes:
    """The network learned from all talks but those of one part."""
    return to_bytes(learn_gist([t for k, (_, ts) in enumerate(_Work.groups) if k % PARTS != without for t in ts]))


def _fitted(without: int | None) -> Table:
    return fitted(_Work.data, without)


def _trials(task: tuple[Path, Path]) -> tuple[str, list[list[Trial]]]:
    """The steps of one talk's transcripts, decoded with the tables that never saw it."""
    folder, folds = task
    weights = read_weights(folds / f"{folder.name}.weights.json")
    sounds = read_sounds(folds / f"{folder.name}.sounds.json")
    return folder.name, [trials(m, weights, sounds) for m in load_marked(folder, _TRIED)]


def _shown(results: Iterable[Result], done: str, names: Sequence[str]) -> Iterator[Result]:
    """The results one by one, each told of on standard error."""
    for result, name in zip(results, names, strict=True):
        click.echo(f"{done}: {name}", err=True)
        yield result


@click.command()
@click.argument("talks", nargs=-1, required=True, type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--out", default=Path("shared"), type=click.Path(path_type=Path), help="Where the tables go.")
@click.option(
    "--folds",
    required=True,
    type=click.Path(path_type=Path),
    help="Where tables go that were learned without a talk, for every talk heard by a recogniser.",
)
@click.option("--jobs", default=os.cpu_count() or 1, show_default=True, help="Processes.")
def main(talks: tuple[Path, ...], out: Path, folds: Path, jobs: int) -> None:
    """Learn the tables of shared/ from TALKS, folders of marked talks (or folders that hold such folders)."""
    folders = sorted({f.parent for talk in talks for f in talk.rglob("spans.json")})
    for folder in (out, folds):
        folder.mkdir(parents=True, exist_ok=True)
    held = [k for k, f in enumerate(folders) if any(f.glob("heard-*.json"))]
    _Work.talks = transcripts(folders)
    _Work.sounds = count_sounds(_really_heard(_Work.talks))
    _Work.guess = Weights({**DEFAULTS, **likely_moves(_Work.talks)})
    with Pool(jobs) as pool:
        groups = list(_shown(pool.imap(_examples, range(len(folders))), "gathered", [f.name for f in folders]))
    _Work.groups = groups
    parts = [None, *range(PARTS)]
    names = ["of all talks", *(f"without part {part}" for part in range(PARTS))]
    with Pool(jobs) as pool:
        files = list(_shown(pool.imap(_gist, parts, chunksize=1), "network", names))
    networks = [parse_gist(file) for file in files[1:]]
    _Work.groups = ()
    _Work.data = Data([guessed(group, networks[k % PARTS]) for k, group in enumerate(groups)])
    with Pool(jobs) as pool:
        tables = list(_shown(pool.imap(_fitted, parts, chunksize=1), "weights", names))
    write_whole(out / "gist.npz", files[0])
    save(out, "", _Work.sounds, tables[0])
    for k in held:
        stem, part = f"{folders[k].name}.", 1 + k % PARTS
        others = count_sounds(_really_heard([talk for n, talk in enumerate(_Work.talks) if n != k]))
        write_whole(folds / f"{stem}gist.npz", files[part])
        save(folds, stem, others, tables[part])
    heard = [folders[k] for k in held]
    with Pool(jobs) as pool:
        tried = pool.imap(_trials, [(f, folds) for f in heard], chunksize=1)
        found = dict(_shown(tried, "decoded", [f.name for f in heard]))
    for folder, stem in [(out, "")] + [(folds, f"{f.name}.") for f in heard]:
        unseen = [t for name in sorted(found) if f"{name}." != stem for t in found[name]]
        weights, sounds = read_weights(folder / f"{stem}weights.json"), read_sounds(folder / f"{stem}sounds.json")
        save(folder, stem, sounds, weights.table, fit_trust(unseen))


if __name__ == "__main__":
    main()
