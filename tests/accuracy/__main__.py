"""`python -m tests.accuracy`: ours beside the baselines on talks with known trees. See --help."""

from __future__ import annotations

import argparse
import importlib
import json
import sys
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import cast

from lesson.decode import decode
from lesson.decode.weights import load_weights
from lesson.hear.sounds import load_sounds
from lesson.learn import tables_without
from lesson.read import read_talk
from tests import baselines
from tests.accuracy.ablation import ablated
from tests.accuracy.gold import SAMPLES, VERSIONS, load_gold, talk_folders
from tests.accuracy.prepared import analysis_of
from tests.accuracy.report import table
from tests.accuracy.study import Decoder, DecoderFor, Study

LOTO_HOOK = "lesson.learn:decoder_for"


def main(argv: Sequence[str] | None = None, decoder_for: DecoderFor | None = None) -> int:
    """Run the study and print its table; 0 when every decoder ended, 1 when one raised, 2 on misuse.

    `decoder_for` replaces the product's decoder: given a talk's name it returns the decoder to judge on that talk,
    so a trainer can hand in one that never learned from it.
    """
    parser = _parser()
    options = parser.parse_args(argv)
    only = options.only.split(",") if options.only else None
    folders = [f for f in talk_folders(options.talks) if only is None or f.name in only]
    if not folders:
        parser.error(f"{options.talks}: no talk with a spans.json here" + (" by that name" if only else ""))
    versions = options.versions.split(",")
    if unknown := sorted(set(versions) - set(VERSIONS)):
        parser.error(f"unknown version {unknown[0]}; choose from {', '.join(VERSIONS)}")
    if decoder_for is None:
        try:
            decoder_for = _hook(options.loto) if options.loto else lambda _: decode
        except (ImportError, AttributeError, ValueError) as error:
            parser.error(f"--loto {options.loto}: {error}")
    systems: dict[str, DecoderFor] = {"ours": decoder_for}
    if options.prepared:
        systems = {"ours": with_analysis(decoder_for, {folder.name: folder for folder in folders})}
    if options.ablations:
        tables = tables_without if options.loto else lambda _: (load_weights(), load_sounds())
        systems |= ablated(tables)
    if options.baselines:
        systems |= {"literal": lambda _: baselines.literal, "greedy": lambda _: baselines.greedy}
    results = Study(folders, versions, systems, read_talk).run(options.jobs)
    print(table(results))
    if options.json:
        options.json.write_text(json.dumps([r.figures() for r in results], indent=1) + "\n", encoding="utf-8")
    return int(any(r.failure for r in results))


def with_analysis(decoder_for: DecoderFor, folders: Mapping[str, Path]) -> DecoderFor:
    """Decoders that also know an analysis of their talk (`tests.accuracy.prepared`)."""

    def prepared_for(name: str) -> Decoder:
        return partial(decoder_for(name), prepared=analysis_of(load_gold(folders[name])))

    return prepared_for


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy", description=__doc__)
    parser.add_argument("--talks", type=Path, default=SAMPLES, help="folder of talks (default: the samples)")
    parser.add_argument("--versions", default=",".join(VERSIONS), help="which transcripts, comma separated")
    parser.add_argument("--only", help="only these talks, comma separated")
    parser.add_argument(
        "--baselines", action=argparse.BooleanOptionalAction, default=True, help="run the two baselines"
    )
    parser.add_argument("--ablations", action="store_true", help="ours once more without each of its parts")
    parser.add_argument(
        "--prepared", action="store_true", help="ours knows an analysis: the true tree and as many moves nobody tells"
    )
    parser.add_argument("--jobs", type=int, default=2, help="talks decoded at a time")
    parser.add_argument("--json", type=Path, help="also write the figures here")
    parser.add_argument(
        "--loto",
        nargs="?",
        const=LOTO_HOOK,
        metavar="MODULE:FUNCTION",
        help=f"leave one talk out: FUNCTION(talk name) returns a decoder not trained on it (default {LOTO_HOOK})",
    )
    return parser


def _hook(name: str) -> DecoderFor:
    module, _, function = name.partition(":")
    return cast(DecoderFor, getattr(importlib.import_module(module), function))


if __name__ == "__main__":
    sys.exit(main())
