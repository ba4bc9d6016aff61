"""A talk of our own under review: made once, its lessons kept, so that a test costs no decoding twice."""

from __future__ import annotations

import asyncio
import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lesson.corrections import Corrections, corrections_text
from lesson.model import Candidate, Finding, Lesson, Talk, Unresolved
from lesson.read import read_talk
from lesson.review.app import Bell, Server, make_app, remake
from lesson.review.guard import Doorkeeper
from lesson.review.session import Remade, Session

TALK = """WEBVTT

00:00:00.000 --> 00:00:06.000
Good evening to the pottery club. We begin with e4, e5, knight f3, knight c6.

00:00:06.000 --> 00:00:12.000
Now bishop c4, and Black answers bishop c5. If knight takes e4, I take back.

00:00:12.000 --> 00:00:18.000
So c3, night f6, and then the pawn goes to b4. Or is it b3 that I played, some pawn push.

00:00:18.000 --> 00:00:26.000
He went bishop b6, I castled, and queen e9 was the idea. Back to move four, castles was possible too.

00:00:26.000 --> 00:00:34.000
Then d6 and rook e1 finish the story. Nobody saw the clay dry.
"""

PORT = 4711  # only a name for the TestClient, which opens no socket

_kept: dict[tuple[Talk, str], Remade] = {}


def remade(talk: Talk, corrections: Corrections) -> Remade:
    """What the program makes of the talk with these corrections, each made once per run; see `doubted`."""
    key = (talk, corrections_text(corrections))
    if key not in _kept:
        made = remake(talk, corrections)
        _kept[key] = Remade(doubted(made.lesson, set(made.places.values())), made.places)
    return _kept[key]


DOUBT = '"castles" is not so after 4. c3: White has castled <already>'


UNSAID = "prepared and not told: 1... c5 and 3 moves after it"
BEYOND = "told where the preparation ends: 4. c3 and 5 moves after it"
AFTER_E4 = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1"


def doubted(lesson: Lesson, answered: set[tuple[int, int]]) -> Lesson:
    """The lesson with a question, something said that the board denies and notes on an analysis, whatever the decoder
    makes of it."""
    found = [Finding(kind="file", severity="note", message="a note on the file is no doubt")]
    found += [Finding(kind="unsaid", severity="note", message=UNSAID, fen=AFTER_E4)]
    found += [
        Finding(kind="beyond", severity="note", message=BEYOND, words=(i, i + 1), start_ms=word.start_ms)
        for i, word in enumerate(lesson.words)
        if word.text == "c3,"
    ]
    found += [
        Finding(kind="claim", severity="error", message=DOUBT, words=(i, i + 1), start_ms=word.start_ms)
        for i, word in enumerate(lesson.words)
        if word.text == "castles"
    ]
    return questioned(lesson.model_copy(update={"findings": (*lesson.findings, *found)}), answered)


def questioned(lesson: Lesson, answered: set[tuple[int, int]]) -> Lesson:
    """The lesson with a doubt about Black's first move, until it is answered: how sure the decoder is of a talk as
    plain as ours is its own affair, and a page without questions is no test."""
    move = next((m for c in lesson.chapters for m in c.moves if m.san == "e5" and m.uci == "e7e5"), None)
    if move is None or move.words in answered or any(q.words == move.words for q in lesson.unresolved):
        return lesson
    chapter = lesson.chapters[0]
    before = next(m for m in chapter.moves if m.id == move.parent)
    question = Unresolved(
        id="doubt",
        chapter=chapter.id,
        at=before.id,
        words=move.words,
        text=" ".join(word.text for word in lesson.words[move.words[0] : move.words[1]]),
        start_ms=move.start_ms,
        fen=AFTER_E4,
        line="1. e4",
        reason="The words fit more than one move.",
        candidates=(Candidate(uci="e7e5", san="e5", confidence=0.5), Candidate(uci="c7c5", san="c5", confidence=0.4)),
        move=move.id,
    )
    moves = tuple(m.model_copy(update={"flagged": m.flagged or m.id == move.id}) for m in chapter.moves)
    chapters = (chapter.model_copy(update={"moves": moves}), *lesson.chapters[1:])
    return lesson.model_copy(update={"chapters": chapters, "unresolved": (*lesson.unresolved, question)})


@pytest.fixture
def talk_path(tmp_path: Path) -> Path:
    path = tmp_path / "pottery.vtt"
    path.write_text(TALK, encoding="utf-8")
    return path


@pytest.fixture
def session(talk_path: Path) -> Session:
    return Session(talk_path, read_talk(talk_path), remade)


@pytest.fixture
def door() -> Doorkeeper:
    return Doorkeeper(PORT)


@pytest.fixture
def stranger(session: Session, door: Doorkeeper) -> Iterator[TestClient]:
    """A client at the right address that has not shown the token."""
    bell = Bell()
    session.notify = bell.ring
    with TestClient(make_app(session, door, bell), base_url=f"http://127.0.0.1:{PORT}") as client:
        yield client


@pytest.fixture
def client(stranger: TestClient, door: Doorkeeper) -> TestClient:
    """A client that has come in, and sends what a browser sends with a script's request."""
    assert stranger.get("/open", params={"token": door.token}).status_code == 200
    stranger.headers |= {"origin": f"http://127.0.0.1:{PORT}", "sec-fetch-site": "same-origin"}
    return stranger


@dataclass
class Running:
    """A review page on a real socket."""

    session: Session
    door: Doorkeeper
    server: Server
    listener: socket.socket
    thread: threading.Thread = field(init=False)

    def __post_init__(self) -> None:
        self.thread = threading.Thread(target=asyncio.run, args=(self.server.serve(sockets=[self.listener]),))
        self.thread.start()

    def stop(self) -> None:
        self.server.should_exit = True
        self.thread.join(10)
        self.listener.close()


def run_page(session: Session, media: Path | None = None) -> Running:
    """Serve the page of a session on a free port of this machine."""
    bell = Bell()
    session.notify = bell.ring
    listener = socket.create_server(("127.0.0.1", 0))
    door = Doorkeeper(listener.getsockname()[1])
    return Running(session, door, Server(make_app(session, door, bell, media), bell), listener)
