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
from lesson.model import Talk
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
    """What the program makes of the talk with these corrections, each made once per run."""
    key = (talk, corrections_text(corrections))
    if key not in _kept:
        _kept[key] = remake(talk, corrections)
    return _kept[key]


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
