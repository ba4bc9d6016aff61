"""UCI engines of our own, scripts of a few lines: an honest one that knows a table, and liars of several kinds."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import chess

SCRIPT = """#!{python}
import os, subprocess, sys, time
mode, table, folder = {mode!r}, {table!r}, {folder!r}

def say(text):
    print(text, flush=True)

def note(name, text):
    with open(os.path.join(folder, name), "a") as file:
        file.write(text + "\\n")

note("pids", str(os.getpid()))
if mode == "leaves a child":
    note("pids", str(subprocess.Popen(["sleep", "600"]).pid))
if mode == "dies at once":
    sys.exit(3)
fen = ""
for line in iter(sys.stdin.readline, ""):
    line = line.strip()
    note("heard", line)
    if line == "uci" and mode == "talks rubbish":
        say("%PDF-1.4 \\x00 rubbish")
        say("readyok readyok bestmove")
    elif line == "uci":
        say("id name table of " + mode)
        say("option name Threads type spin default 4 min 1 max 64")
        say("option name Hash type spin default 256 min 1 max 4096")
        say("uciok")
    elif line == "isready":
        say("readyok")
    elif line.startswith("position fen "):
        fen = line.removeprefix("position fen ")
    elif line == "position startpos":
        fen = "{start}"
    elif line.startswith("go") and mode == "hangs":
        pass
    elif line.startswith("go") and mode == "dies":
        sys.exit(1)
    elif line.startswith("go") and mode == "floods":
        while True:
            sys.stdout.write("info string " * 10000)
    elif line.startswith("go") and mode == "chatters":
        while True:
            say("info depth 1 score cp 1")
            time.sleep(0.001)
    elif line.startswith("go") and mode == "plays illegal moves":
        say("info depth 9 score cp 900 pv e2e5")
        say("bestmove e2e5")
    elif line.startswith("go") and mode == "gives no evaluation":
        say("info depth 9 score about even")
        say("bestmove g1f3")
    elif line.startswith("go"):
        time.sleep(0.2 if mode == "is slow" else 0)
        score, best = table[fen]
        say("info depth 1 score cp 7777 lowerbound")
        say("info depth 9 score " + score + " nodes 5 pv " + best)
        say("info depth 10 score cp 7777 upperbound")
        say("bestmove " + best)
    elif line == "quit" and mode != "ignores quit":
        sys.exit(0)
"""


def after(*sans: str) -> str:
    """The position after moves, as FEN."""
    board = chess.Board()
    for san in sans:
        board.push_san(san)
    return board.fen()


def an_engine(folder: Path, mode: str = "honest", table: dict[str, tuple[str, str]] | None = None) -> Path:
    """An executable engine in `folder`. `table` says what an honest one answers, FEN -> score as UCI has it (from the
    view of the side to move: "cp 30", "mate 2") and best move."""
    path = folder / "our engine.py"
    script = SCRIPT.format(
        python=sys.executable, mode=mode, table=table or {}, folder=str(folder), start=chess.STARTING_FEN
    )
    path.write_text(script, encoding="utf-8")
    path.chmod(0o755)
    return path


def heard(folder: Path) -> list[str]:
    """Every line the engine in `folder` was sent."""
    return (folder / "heard").read_text(encoding="utf-8").splitlines()


def starts(folder: Path) -> int:
    """How often it was started."""
    return len((folder / "pids").read_text().split())


def alive(folder: Path) -> list[int]:
    """The processes of the engine that still run (a zombie does not), a moment after they should have ended."""
    pids = [int(pid) for pid in (folder / "pids").read_text().split()]
    ends = time.monotonic() + 2
    while (left := [pid for pid in pids if _state(pid) not in ("", "Z", "X")]) and time.monotonic() < ends:
        time.sleep(0.02)
    return left


def _state(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return ""
