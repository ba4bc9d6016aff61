"""A chess engine of the user's own, asked over UCI: positions in, evaluations out, and no more trouble than one line.

UCI is the protocol that engines speak over their standard input and output. Every answer is bounded in nodes, so that
it can be repeated; time, memory and the length of an answer are bounded too, because the program is not ours.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import shutil
import signal
import time
from collections.abc import Coroutine, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import chess
import chess.engine

from lesson.errors import UsageError
from lesson.settings import (
    ENGINE_ANSWER_BYTES,
    ENGINE_HASH_MB,
    ENGINE_NODES,
    ENGINE_POSITION_S,
    ENGINE_QUIT_S,
    ENGINE_RUN_S,
)

T = TypeVar("T")

_FIRST = asyncio.FIRST_COMPLETED

MATE = 100_000
"""Centipawns of a mate on the board; one in n moves is worth n less."""


@dataclass(frozen=True, slots=True)
class Evaluation:
    """What a position is worth: centipawns `for_white` (a mate is MATE less its moves), the mate in `mate` moves
    (negative: Black mates; None: no mate is seen), and the `best` move (UCI)."""

    for_white: int
    mate: int | None
    best: str

    def for_side(self, side: chess.Color) -> int:
        """Centipawns from the view of `side`."""
        return self.for_white if side else -self.for_white

    def __str__(self) -> str:
        """ "+0.4" (pawns, positive for White) or "mate in 3 for Black"."""
        if self.mate is None:
            return f"{self.for_white / 100:+.1f}"
        return f"mate in {abs(self.mate)} for {'White' if self.for_white > 0 else 'Black'}"


class Engine:
    """One engine for a whole run. It is started for each talk and ended after it; once it has failed it is not asked
    again, and `trouble` says why, in a few words ("" while all is well)."""

    def __init__(
        self,
        path: Path,
        nodes: int = ENGINE_NODES,
        position_s: float = ENGINE_POSITION_S,
        run_s: float = ENGINE_RUN_S,
    ) -> None:
        """`nodes` bounds each answer; `position_s` and `run_s` are seconds for one answer, the start included, and for
        all of them. Raises UsageError where `path` is no program that can be run."""
        if not path.exists() and shutil.which(path) is None:
            raise UsageError(f"{path}: there is no such engine; --engine wants the path of a UCI engine")
        if path.is_dir() or (found := shutil.which(path)) is None:
            raise UsageError(f"{path}: is not executable; --engine wants the path of a UCI engine")
        self.path, self.nodes = Path(found), nodes
        self.position_s, self._run_s, self._left_s = position_s, run_s, run_s
        self.trouble = ""

    @property
    def name(self) -> str:
        return self.path.name

    def ask(self, fens: Sequence[str]) -> dict[str, Evaluation]:
        """What the engine says of the positions, by FEN; after trouble only those it came to. Games that are over are
        not asked about. The engine has ended when this returns."""
        found: dict[str, Evaluation] = {}
        asked = []
        for fen in dict.fromkeys(fens):
            over = _over(fen)
            if over is None:
                asked.append(fen)
            else:
                found[fen] = over
        if not asked or self.trouble:
            return found
        began = time.monotonic()
        try:
            asyncio.run(self._consult(asked, found))
        except _Failed as failed:
            self.trouble = str(failed)
        finally:
            self._left_s -= time.monotonic() - began
        return found

    async def _consult(self, fens: Sequence[str], found: dict[str, Evaluation]) -> None:
        """Fill `found`. Raises _Failed."""
        logging.getLogger(chess.engine.__name__).disabled = True
        # The library reports an answer it cannot take (an illegal move) here and then waits for another.
        refused: asyncio.Future[None] = asyncio.Future()
        asyncio.get_running_loop().set_exception_handler(lambda loop, context: _refuse(refused, context))
        ends_s = time.monotonic() + self._left_s
        # A group of its own, so that what the engine starts ends with it.
        try:
            transport, protocol = await _Bounded.popen(str(self.path), setpgrp=True)
        except OSError as error:
            raise _Failed(f"it cannot be run ({error.strerror})") from error
        try:
            await self._within(protocol.initialize(), refused, ends_s, "it does not speak UCI")
            await self._within(protocol.configure(_modest(protocol)), refused, ends_s, "it does not take its options")
            for fen in fens:
                protocol.heard = 0
                found[fen] = await self._within(self._evaluation(protocol, fen), refused, ends_s, "it does not answer")
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(protocol.quit(), ENGINE_QUIT_S)
        except chess.engine.EngineTerminatedError as error:
            raise _Failed("it never stops talking" if protocol.flooded else "it ended by itself") from error
        except chess.engine.EngineError as error:
            raise _Failed(f"it breaks the protocol ({' '.join(str(error).split())[:80]})") from error
        finally:
            if not protocol.returncode.done():
                _kill(transport)
            transport.close()
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(asyncio.shield(protocol.returncode), ENGINE_QUIT_S)

    async def _within(
        self, answer: Coroutine[Any, Any, T], refused: asyncio.Future[None], ends_s: float, otherwise: str
    ) -> T:
        """The answer, where it comes in time and is not `refused`. Raises _Failed, with `otherwise` for no answer."""
        left_s = ends_s - time.monotonic()
        task = asyncio.ensure_future(answer)
        either: set[asyncio.Future[Any]] = {task, refused}
        await asyncio.wait(either, timeout=max(0.0, min(self.position_s, left_s)), return_when=_FIRST)
        if task.done():
            return task.result()
        task.cancel()
        await asyncio.wait({task})
        if refused.done():
            refused.result()
        if left_s <= self.position_s:
            raise _Failed(f"the {self._run_s:g} s allowed for all positions are over")
        raise _Failed(f"{otherwise} within {self.position_s:g} s")

    async def _evaluation(self, protocol: chess.engine.UciProtocol, fen: str) -> Evaluation:
        """One answer. A new `game` empties the engine's memory: what was asked before must not change it."""
        board = chess.Board(fen)
        score = bound = None
        with await protocol.analysis(board, chess.engine.Limit(nodes=self.nodes), game=fen) as analysis:
            async for info in analysis:
                if "lowerbound" in info or "upperbound" in info:
                    bound = info.get("score")
                else:
                    score = info.get("score", score)
            best = (await analysis.wait()).move
        score = score or bound
        if score is None or not best:
            raise _Failed(f"it gives no {'move' if score else 'evaluation'} for {fen}")
        white = score.white()
        return Evaluation(white.score(mate_score=MATE), white.mate(), best.uci())


class _Failed(Exception):
    """Why the engine is not asked any more, in a few words."""


class _Bounded(chess.engine.UciProtocol):
    """UCI with an ear that does not take in more than ENGINE_ANSWER_BYTES for one answer."""

    def __init__(self) -> None:
        super().__init__()
        self.heard = 0
        self.flooded = False

    def pipe_data_received(self, fd: int, data: bytes | str) -> None:
        self.heard += len(data)
        if self.heard > ENGINE_ANSWER_BYTES:
            self.flooded = True
            if self.transport is not None:
                _kill(self.transport)
        else:
            super().pipe_data_received(fd, data)


def _refuse(refused: asyncio.Future[None], context: dict[str, Any]) -> None:
    error = context.get("exception")
    if not refused.done() and isinstance(error, chess.engine.EngineError):
        refused.set_exception(error)


def _modest(protocol: chess.engine.UciProtocol) -> dict[str, int]:
    """One thread, because several do not repeat an answer, and little memory; where the engine has these options."""
    wanted = {"Threads": 1, "Hash": ENGINE_HASH_MB}
    options = {name: protocol.options[name] for name in wanted if name in protocol.options}
    return {name: max(option.min or 0, min(wanted[name], option.max or 1)) for name, option in options.items()}


def _kill(transport: asyncio.SubprocessTransport) -> None:
    """End the engine and whatever it started."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        if os.name == "posix":
            os.killpg(transport.get_pid(), signal.SIGKILL)
        else:
            transport.kill()


def _over(fen: str) -> Evaluation | None:
    """The evaluation of a game that is over: mate or a draw by the rules; None while it goes on."""
    board = chess.Board(fen)
    if board.is_checkmate():
        return Evaluation(-MATE if board.turn else MATE, 0, "")
    if board.is_stalemate() or board.is_insufficient_material():
        return Evaluation(0, None, "")
    return None
