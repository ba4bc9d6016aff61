"""`--engine`: what an honest engine contradicts, and how a broken one ends in one line and no more."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from lesson.check.engine import MATE, Engine, Evaluation
from lesson.check.script import check_script
from lesson.cli import cli, main
from lesson.errors import UsageError
from lesson.model import Lesson
from lesson.pipeline import make_lesson
from lesson.settings import ENGINE_HASH_MB, ENGINE_NODES, ENGINE_POSITION_S, ENGINE_RUN_S
from tests.check.engines import after, alive, an_engine, heard, starts

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the engines of the test are scripts with a first line #!")

INTERRUPTED = "lesson: interrupted; files already written are whole"
ROOT = Path(__file__).resolve().parents[2]

VERDICT = "e4, e5, knight f3, knight c6, bishop b5, a6, and White is winning.\n"
RUY = after("e4", "e5", "Nf3", "Nc6", "Bb5", "a6")
ADVICE = "A repertoire for White. e4, e5, and now I recommend queen g4. Then d5, and the story is over, it's equal.\n"
OPEN, QUEEN_OUT = after("e4", "e5"), after("e4", "e5", "Qg4")
STORY = after("e4", "e5", "Qg4", "d5")
FAULTY = VERDICT.replace("a6,", "a6, knight e4,")


def script(folder: Path, text: str) -> Path:
    path = folder / "evening.txt"
    path.write_text(text, encoding="utf-8")
    return path


def checked(path: Path, engine: Engine) -> list[tuple[str, str]]:
    return [(f.fault.kind, f.fault.message) for f in check_script(path, engine=engine) if f.fault.kind != "no-verdict"]


# ------------------------------------------------------------------------------------------------- an honest engine


def test_a_verdict_that_does_not_fit_is_reported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    engine = an_engine(tmp_path, table={RUY: ("cp 35", "b5a4")})
    path = script(tmp_path, VERDICT)
    assert main(["check", str(path), "--engine", str(engine), "--engine-nodes", "1234"]) == 0
    printed = capsys.readouterr()
    column = VERDICT.index("White") + 1
    assert printed.out == (
        f'{path}:1:{column}: verdict: "White is winning" does not fit the evaluation after 3... a6, +0.3 '
        f"(our engine.py, 1 234 nodes) [{RUY}]\n"
    )
    assert printed.err == ""
    assert alive(tmp_path) == []


@pytest.mark.parametrize(
    ("words", "score", "fits"),
    [
        ("White is winning", "cp 260", True),
        ("White is winning", "mate 3", True),
        ("White is winning", "mate -3", False),
        ("Black is winning", "cp -260", True),
        ("Black is winning", "cp 260", False),
        ("White is better", "cp 60", True),
        ("White is better", "cp -60", False),
        ("Black is better", "cp 60", False),
        ("White is slightly better", "cp 30", True),
        ("White is slightly better", "cp 700", False),
        ("it's equal", "cp 20", True),
        ("it's equal", "cp -400", False),
    ],
)
def test_words_and_evaluations(tmp_path: Path, words: str, score: str, fits: bool) -> None:
    """White is to move, so the score of UCI ("from the engine's point of view", protocol of April 2006) is White's."""
    path = script(tmp_path, VERDICT.replace("White is winning", words))
    engine = Engine(an_engine(tmp_path, table={RUY: (score, "b5a4")}))
    assert [kind for kind, _ in checked(path, engine)] == ([] if fits else ["verdict"])
    assert engine.trouble == ""


def advised(folder: Path, text: str, before: str, behind: str) -> list[tuple[str, str]]:
    """The faults where the engine sees `before` in front of 2. Qg4, for White, and `behind` after it, for Black."""
    table = {OPEN: (before, "g1f3"), QUEEN_OUT: (behind, "d7d5"), STORY: ("cp 0", "e4d5")}
    return checked(script(folder, text), Engine(an_engine(folder, table=table)))


def test_advice_that_loses_is_reported_with_the_better_move(tmp_path: Path) -> None:
    ((kind, message),) = advised(tmp_path, ADVICE, "cp 40", "cp 410")
    assert kind == "blunder"
    assert 'queen g4" speaks for Qg4 after 1... e5, which leads to -4.1; Nf3 keeps +0.4 (our engine.py' in message


@pytest.mark.parametrize(
    ("text", "before", "behind"),
    [
        (ADVICE, "cp 40", "cp 60"),  # a pawn less is a matter of taste
        (ADVICE, "cp 900", "cp -600"),  # still won
        (ADVICE, "mate 4", "cp -1500"),  # a mate missed by a side that wins anyhow
        (ADVICE.replace("White.", "Black."), "cp 40", "cp 410"),  # not the side the talk is for
        (ADVICE.replace("I recommend", "they tried"), "cp 40", "cp 410"),  # nobody advised it
    ],
)
def test_advice_that_may_stand_is_not_reported(tmp_path: Path, text: str, before: str, behind: str) -> None:
    assert advised(tmp_path, text, before, behind) == []


def test_praise_counts_as_advice(tmp_path: Path) -> None:
    text = "e4, e5, queen g4, a brilliant move. Then d5, and it's equal.\n"
    assert [kind for kind, _ in advised(tmp_path, text, "cp 40", "mate 2")] == ["blunder"]


def test_a_converted_talk_has_the_findings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    engine = an_engine(tmp_path, table={RUY: ("cp 35", "b5a4")})
    path = script(tmp_path, VERDICT)
    assert main(["convert", str(path), "--engine", str(engine)]) == 0
    assert 'note        "White is winning" does not fit the evaluation after 3... a6' in capsys.readouterr().out
    (finding,) = Lesson.model_validate_json(path.with_suffix(".lesson.json").read_bytes()).findings
    assert (finding.kind, finding.severity, finding.fen) == ("verdict", "warning", RUY)
    assert "and **White is winning.** (" in path.with_suffix(".unresolved.md").read_text(encoding="utf-8")


def test_the_engine_is_kept_small_and_repeatable(tmp_path: Path) -> None:
    engine = Engine(an_engine(tmp_path, table={RUY: ("cp 0", "b5a4"), OPEN: ("cp 9", "g1f3")}), nodes=77)
    assert engine.ask([RUY, OPEN, RUY]) == {RUY: Evaluation(0, None, "b5a4"), OPEN: Evaluation(9, None, "g1f3")}
    lines = heard(tmp_path)
    assert {"setoption name Threads value 1", f"setoption name Hash value {ENGINE_HASH_MB}"} <= set(lines)
    assert lines.count("go nodes 77") == 2
    assert lines.count("ucinewgame") == 2
    assert not any("movetime" in line for line in lines)


def test_a_game_that_is_over_needs_no_engine(tmp_path: Path) -> None:
    mate, stalemate = after("f3", "e5", "g4", "Qh4#"), "7k/5Q2/6K1/8/8/8/8/8 b - - 0 1"
    found = Engine(an_engine(tmp_path)).ask([mate, stalemate])
    assert found == {mate: Evaluation(-MATE, 0, ""), stalemate: Evaluation(0, None, "")}
    assert not (tmp_path / "pids").exists()


def test_only_an_asked_kind_starts_the_engine(tmp_path: Path) -> None:
    path = script(tmp_path, FAULTY)
    assert [f.fault.kind for f in check_script(path, kinds=("illegal",), engine=Engine(an_engine(tmp_path)))]
    assert not (tmp_path / "pids").exists()


# --------------------------------------------------------------------------------------------------- a broken engine

BROKEN = {
    "hangs": "does not answer within 1.5 s",
    "chatters": "does not answer within 1.5 s",
    "talks rubbish": "does not speak UCI within 1.5 s",
    "dies at once": "ended by itself",
    "dies": "ended by itself",
    "floods": "never stops talking",
    "plays illegal moves": "breaks the protocol",
    "gives no evaluation": "gives no evaluation",
}


@pytest.mark.parametrize("mode", BROKEN)
def test_a_broken_engine_ends_in_one_line(tmp_path: Path, mode: str, capfd: pytest.CaptureFixture[str]) -> None:
    path = script(tmp_path, "e4, e5, and White is winning. Back to the start. " + FAULTY)
    without = [f.fault for f in check_script(path)]
    began = time.monotonic()
    engine = Engine(an_engine(tmp_path, mode), position_s=1.5, run_s=30)
    found = [f.fault for f in check_script(path, engine=engine)]
    assert time.monotonic() - began < 20
    (line,) = [fault for fault in found if fault.kind == "engine"]
    assert line.severity == "warning"
    assert line.message.startswith("the engine our engine.py is not asked any more: it ")
    assert BROKEN[mode] in line.message
    assert "\n" not in line.message
    assert [fault for fault in found if fault.kind != "engine"] == without
    assert any(fault.kind == "illegal" for fault in without)
    assert alive(tmp_path) == []
    assert capfd.readouterr() == ("", "")


def test_a_converted_talk_is_written_without_a_broken_engine(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = script(tmp_path, VERDICT)
    assert main(["convert", str(path), "--engine", str(an_engine(tmp_path, "dies"))]) == 0
    printed = capfd.readouterr()
    assert printed.err == ""
    notes = [line for line in printed.out.splitlines() if line.startswith("  note")]
    message = "the engine our engine.py is not asked any more: it ended by itself; 1 of 1 remarks"
    assert [message in note for note in notes] == [True]
    lesson = Lesson.model_validate_json(path.with_suffix(".lesson.json").read_bytes())
    assert [(f.kind, f.severity, f.words) for f in lesson.findings] == [("engine", "warning", None)]
    assert lesson.chapters == make_lesson(path).chapters
    assert "## Notes" in path.with_suffix(".unresolved.md").read_text(encoding="utf-8")


def test_a_broken_engine_is_not_started_for_the_next_talk(tmp_path: Path) -> None:
    engine = Engine(an_engine(tmp_path, "dies"))
    path = script(tmp_path, VERDICT)
    for _ in range(2):
        assert [kind for kind, _ in checked(path, engine)] == ["engine"]
    assert starts(tmp_path) == 1


def test_a_program_that_is_none_is_said_so(tmp_path: Path) -> None:
    path = tmp_path / "engine"
    path.write_bytes(b"\x7fELF and nothing more")
    path.chmod(0o755)
    engine = Engine(path)
    assert engine.ask([OPEN]) == {}
    assert engine.trouble.startswith("it cannot be run (")


@pytest.mark.parametrize("mode", ["ignores quit", "leaves a child"])
def test_an_engine_that_stays_is_ended(tmp_path: Path, mode: str) -> None:
    engine = Engine(an_engine(tmp_path, mode, {RUY: ("cp 35", "b5a4")}))
    assert engine.ask([RUY]) == {RUY: Evaluation(35, None, "b5a4")}
    assert engine.trouble == ""
    assert alive(tmp_path) == []


def test_interrupted_while_the_engine_thinks(tmp_path: Path) -> None:
    engine, path = an_engine(tmp_path, "hangs"), script(tmp_path, VERDICT)
    code = "import sys; from lesson.cli import main; sys.exit(main())"
    command = [sys.executable, "-c", code, "check", str(path), "--engine", str(engine)]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    ends = time.monotonic() + 60
    while not ((tmp_path / "heard").exists() and f"go nodes {ENGINE_NODES}" in heard(tmp_path)):
        assert time.monotonic() < ends
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=30)
    assert (process.returncode, err.strip()) == (130, INTERRUPTED)
    assert alive(tmp_path) == []


def test_the_whole_run_has_an_end(tmp_path: Path) -> None:
    fens = [after(first, second) for first in ("e4", "d4", "c4", "Nf3") for second in ("e5", "d5", "c5", "Nf6")]
    table = dict.fromkeys(fens, ("cp 1", "b1c3"))
    engine = Engine(an_engine(tmp_path, "is slow", table), run_s=1.5)
    began = time.monotonic()
    found = engine.ask(fens)
    assert time.monotonic() - began < 6
    assert 0 < len(found) < len(fens)
    assert list(found) == fens[: len(found)]
    assert engine.trouble == "the 1.5 s allowed for all positions are over"
    assert alive(tmp_path) == []


# ------------------------------------------------------------------------------------------------------------- misuse


def test_a_path_that_is_no_program_is_misuse(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = script(tmp_path, VERDICT)
    for command in ("check", "convert"):
        for wrong, why in ((tmp_path / "absent", "no such engine"), (path, "not executable"), (tmp_path, "executable")):
            assert main([command, str(path), "--engine", str(wrong)]) == 2
            (line,) = capsys.readouterr().err.splitlines()
            assert line.startswith(f"lesson: {wrong}: ")
            assert why in line
        assert main([command, str(path), "--engine-nodes", "5"]) == 2
        assert "--engine-nodes goes with --engine" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [path]
    with pytest.raises(UsageError):
        Engine(tmp_path / "absent")


def test_the_help_and_the_manual_state_the_bounds_that_are_used() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    spaced = f"{ENGINE_NODES:,}".replace(",", " ")
    assert f"{spaced} positions for each answer" in readme
    assert f"one thread and {ENGINE_HASH_MB} MB of memory" in readme
    assert f"hangs for {ENGINE_POSITION_S:g} seconds, uses up {ENGINE_RUN_S:g} seconds in all" in readme
    for command in ("check", "convert"):
        (option,) = (p for p in cli.commands[command].params if p.name == "nodes")
        assert f"; {ENGINE_NODES} without it" in str(option.to_info_dict()["help"])


def test_sarif_names_the_kinds_of_the_engine(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    engine = an_engine(tmp_path, table={RUY: ("cp 35", "b5a4")})
    assert main(["check", str(script(tmp_path, VERDICT)), "--engine", str(engine), "--format", "sarif"]) == 0
    (result,) = json.loads(capsys.readouterr().out)["runs"][0]["results"]
    assert (result["ruleId"], result["level"]) == ("verdict", "warning")


# -------------------------------------------------------------------------------------------------------- a real one

REAL = shutil.which("stockfish", path=f"{os.environ.get('PATH', '')}:/usr/games")


@pytest.mark.skipif(REAL is None, reason="a free UCI engine from Debian's packages is missing; .ci/run installs it")
def test_a_free_engine_from_debians_packages(tmp_path: Path) -> None:
    assert REAL is not None
    # Two positions of which the rules alone decide the sign: mate in one (Scholar's mate), and a queen more.
    scholar = after("e4", "e5", "Bc4", "Nc6", "Qh5", "Nf6")
    queen_up = "4k3/8/8/8/8/8/3PP3/3QK3 b - - 0 1"
    found = [Engine(Path(REAL), 20_000).ask(fens) for fens in ([scholar, queen_up], [queen_up, scholar])]
    assert found[0] == found[1]
    assert (found[0][scholar].mate, found[0][scholar].best) == (1, "h5f7")
    assert found[0][queen_up].for_white > 500
    text = "For Black: e4, e5, bishop c4, knight c6, queen h5, and I recommend knight f6. Now Black is better.\n"
    kinds = checked(script(tmp_path, text), Engine(Path(REAL), 20_000))
    assert [kind for kind, _ in kinds] == ["blunder", "verdict"]
    assert "mate in 1 for White" in kinds[0][1]
