"""The study end to end on one sample, with decoders whose figures are known beforehand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lesson.model import Decoded, Talk
from lesson.read import read_talk
from tests import baselines
from tests.accuracy.__main__ import main
from tests.accuracy.gold import SAMPLES, VERSIONS, load_gold, talk_folders
from tests.accuracy.report import table
from tests.accuracy.study import Decoder, Study
from tests.accuracy.test_spans import oracle

TALK = "opening-traps"


def perfect(name: str) -> Decoded:
    return oracle(load_gold(SAMPLES / name))


def test_every_sample_has_all_versions_and_its_marks_lie_inside() -> None:
    folders = talk_folders(SAMPLES)
    assert len(folders) >= 6
    for folder in folders:
        gold = load_gold(folder)
        assert set(gold.files()) == set(VERSIONS)
        assert all(0 <= s.words[0] <= s.words[1] <= len(gold.words) for s in gold.spans)


def test_the_true_answer_gets_full_marks_and_the_table_says_so() -> None:
    study = Study([SAMPLES / TALK], ["exact"], {"ours": lambda name: lambda talk: perfect(name)}, read_talk)
    (result,) = study.run()
    assert result.figures()["f1"] == result.figures()["spans"] == 1
    assert result.figures()["silent_per_100"] == result.figures()["ece"] == 0
    rows = [line.split() for line in table([result]).splitlines()]
    assert ["opening-traps", "exact", "1.000", "1.000", "1.000", "1.000"] in [row[:6] for row in rows]


def test_a_decoder_is_asked_for_by_talk_and_a_crash_is_reported(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    asked = []

    def decoder_for(name: str) -> Decoder:
        asked.append(name)

        def decode(talk: Talk) -> Decoded:
            raise ValueError("no such thing")

        return decode

    out = tmp_path / "figures.json"
    code = main(["--only", TALK, "--versions", "exact", "--jobs", "1", "--json", str(out)], decoder_for)
    assert (code, asked) == (1, [TALK])
    assert "FAILED opening-traps exact ours: ValueError: no such thing" in capsys.readouterr().out
    figures = {row["system"]: row for row in json.loads(out.read_text())}
    assert set(figures) == {"ours", "literal", "greedy"}
    assert figures["ours"]["f1"] == figures["ours"]["spans"] == 0 < figures["literal"]["f1"]


@pytest.mark.parametrize("argv", [["--only", "nowhere"], ["--versions", "shouted"]])
def test_misuse_ends_with_two(argv: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(argv, lambda name: baselines.literal)
    assert stop.value.code == 2
    assert capsys.readouterr().err


@pytest.mark.parametrize("hook", ["no.such.module:f", "tests.baselines:nothing", "tests.baselines"])
def test_a_hook_that_is_not_there_ends_with_two(hook: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["--only", TALK, "--loto", hook])
    assert stop.value.code == 2
    assert hook in capsys.readouterr().err


def test_two_processes_find_what_one_finds() -> None:
    folders = [SAMPLES / TALK, SAMPLES / "club-game"]
    study = Study(folders, ["captions"], {"literal": lambda name: baselines.literal}, read_talk)
    one, two = ([(r.talk, r.tree, r.trust, r.verdicts) for r in study.run(jobs)] for jobs in (1, 2))
    assert one == two
    assert [row[0] for row in one] == [folder.name for folder in folders]
