"""Run decoders over talks with known trees and collect one result per talk, version and system."""

from __future__ import annotations

import multiprocessing
import time
import traceback
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lesson.model import Decoded, Talk
from tests.accuracy.gold import GoldTalk, load_gold
from tests.accuracy.score import TreeScore, TrustScore, calibration_error, mean, per_hundred, score_tree, score_trust
from tests.accuracy.spans import Verdict, judge_spans

Decoder = Callable[..., Decoded]
"""Takes a Talk."""
DecoderFor = Callable[[str], Decoder]
"""Talk name -> the decoder to judge on that talk; for leave-one-talk-out, one that never learned from it."""

Reader = Callable[[Path], Talk]


@dataclass(frozen=True, slots=True)
class Result:
    """What one system made of one version of one talk. `seconds` is decoding alone, without reading the file.

    A decoder that raised has `failure` (its last traceback line) and scores nothing.
    """

    talk: str
    version: str
    system: str
    tree: TreeScore
    trust: TrustScore
    verdicts: tuple[Verdict, ...]
    seconds: float
    failure: str = ""

    def spans(self, *acts: str) -> float:
        """Share of the marked stretches (of these acts; all by default) told right."""
        return mean([float(v.right) for v in self.verdicts if not acts or v.span.act in acts])

    def figures(self) -> dict[str, Any]:
        """The figures of the table, by name, for machines."""
        trust, moves = self.trust, self.trust.written
        return {
            "talk": self.talk,
            "version": self.version,
            "system": self.system,
            "f1": self.tree.f1,
            "recall": self.tree.recall,
            "precision": self.tree.precision,
            "said": self.tree.said,
            "written": self.tree.written,
            "spans": self.spans(),
            "spans_by_act": {act: self.spans(act) for act in sorted({v.span.act for v in self.verdicts})},
            "silent_per_100": per_hundred(trust.silent, moves),
            "silent_first_per_100": per_hundred(trust.silent_first, moves),
            "flagged_per_100": per_hundred(trust.flagged, moves),
            "unresolved_per_100": per_hundred(trust.unresolved, moves),
            "ece": calibration_error(trust.trials),
            "seconds": self.seconds,
            "failure": self.failure,
        }


@dataclass(frozen=True, slots=True)
class Study:
    """What to run: talk folders, version names, and the systems by name."""

    folders: Sequence[Path]
    versions: Sequence[str]
    systems: Mapping[str, DecoderFor]
    read: Reader

    def run(self, jobs: int = 1) -> list[Result]:
        """Every talk that has the version, by every system; in `jobs` processes, talk by talk."""
        global _running
        _running = self
        if jobs <= 1 or len(self.folders) <= 1:
            batches: Iterable[list[Result]] = map(_run_talk, self.folders)
            return [result for batch in batches for result in batch]
        # forked, because decoders may be closures over learned weights, which cannot be pickled
        with multiprocessing.get_context("fork").Pool(jobs) as pool:
            return [result for batch in pool.imap(_run_talk, self.folders) for result in batch]


_running: Study | None = None


def _run_talk(folder: Path) -> list[Result]:
    study = _running
    assert study is not None
    gold, results = load_gold(folder), []
    decoders = {name: decoder_for(gold.name) for name, decoder_for in study.systems.items()}
    for version, file in gold.files().items():
        if version in study.versions:
            talk = study.read(file)
            results += [judge(gold, talk, version, name, decoder) for name, decoder in decoders.items()]
    return results


def judge(gold: GoldTalk, talk: Talk, version: str, system: str, decoder: Decoder) -> Result:
    """Decode one talk and score the answer."""
    start, failure = time.perf_counter(), ""
    try:
        decoded = decoder(talk)
    except Exception:  # one broken talk must not hide the figures of the others; the study ends with exit code 1
        decoded, failure = Decoded((), ()), traceback.format_exc().strip().splitlines()[-1]
    seconds = time.perf_counter() - start
    tree = score_tree(gold.pgn, decoded)
    verdicts = judge_spans(gold, talk, decoded)
    if failure:
        verdicts = [Verdict(v.span, v.words, False) for v in verdicts]
    return Result(gold.name, version, system, tree, score_trust(decoded, tree), tuple(verdicts), seconds, failure)
