"""While the talk is being read again: a glance is shown, said to be one, and a newer answer overtakes the reading."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lesson.corrections import Corrections, read_corrections
from lesson.model import Talk
from lesson.read import read_talk
from lesson.review.answers import Answer
from lesson.review.app import Bell, make_app
from lesson.review.guard import Doorkeeper
from lesson.review.session import Overtaken, Remade, Session
from tests.review.conftest import PORT, remade
from tests.review.test_session import words


class Slow:
    """Makes the lesson as the program does, but only when it is let; `between` is asked while it waits."""

    def __init__(self) -> None:
        self.let, self.begun = threading.Event(), threading.Semaphore(0)
        self.given_up = 0
        self.session: Session | None = None

    def __call__(self, talk: Talk, corrections: Corrections) -> Remade:
        if self.session is None:
            return remade(talk, corrections)
        self.begun.release()
        while not self.let.wait(0.005):
            try:
                self.session.between(20)
            except Overtaken:
                self.given_up += 1
                raise
        return remade(talk, corrections)


def glance(talk: Talk, corrections: Corrections) -> Remade:
    """All of the lesson, said to be known up to the word 40 only."""
    made = remade(talk, corrections)
    return Remade(made.lesson, made.places, 40)


def test_a_reading_does_not_begin_while_the_page_asks(talk_path: Path) -> None:
    maker = Slow()
    session = Session(talk_path, read_talk(talk_path), maker, glance=glance)
    maker.session = session
    first, last = words(session, "b3")
    with session.attention():
        session.answer(Answer(version=1, shown=1, words=(first, last), means="talk", value="", at="", person=""))
        assert session.glimpse(60)
        assert not maker.begun.acquire(timeout=0.2)
    assert maker.begun.acquire(timeout=60)
    maker.let.set()
    assert session.settle(60)


@pytest.fixture
def slow(talk_path: Path) -> Iterator[Slow]:
    maker = Slow()
    maker.session = Session(talk_path, read_talk(talk_path), maker, glance=glance)
    yield maker
    maker.let.set()
    assert maker.session.settle(60)


@pytest.fixture
def client(slow: Slow) -> TestClient:
    assert slow.session is not None
    door = Doorkeeper(PORT)
    client = TestClient(make_app(slow.session, door, Bell()), base_url=f"http://127.0.0.1:{PORT}")
    assert client.get("/open", params={"token": door.token}).status_code == 200
    client.headers |= {"origin": f"http://127.0.0.1:{PORT}", "sec-fetch-site": "same-origin"}
    return client


def body(session: Session, text: str, means: str = "talk") -> dict[str, object]:
    return {"version": session.version, "shown": session.serial, "words": words(session, text), "means": means}


def test_the_response_shows_a_glance_and_says_that_it_is_one(slow: Slow, client: TestClient) -> None:
    session = slow.session
    assert session is not None
    first, last = words(session, "castles")
    reply = client.post("/answer", json=body(session, "castles"))
    assert reply.status_code == 200
    main = reply.json()["main"]
    assert f'id="s{first}-{last}-' in main
    assert "settled answered" in main
    assert 'data-waiting="The talk from ' in main
    assert 'class="waits"' in main
    assert session.pending
    assert 'id="said" role="status" aria-live="polite"' in client.get("/").text  # where the page says it
    slow.let.set()
    assert session.settle(60)
    whole = client.get("/main").text
    assert 'data-waiting=""' in whole
    assert 'class="waits"' not in whole


def test_a_second_answer_overtakes_the_reading_of_the_first_and_both_hold(slow: Slow, client: TestClient) -> None:
    session = slow.session
    assert session is not None
    assert client.post("/answer", json=body(session, "castles")).status_code == 200
    assert slow.begun.acquire(timeout=10)
    assert client.post("/answer", json=body(session, "b3")).status_code == 200
    assert slow.begun.acquire(timeout=10)
    assert slow.given_up == 1
    slow.let.set()
    assert session.settle(60)
    assert [c.text for c in read_corrections(session.path).corrections] == ["castles", "b3"]
    assert session.shown.lesson == remade(session.talk, session.corrections).lesson


def test_the_files_wait_until_the_talk_is_read(slow: Slow, client: TestClient) -> None:
    session = slow.session
    assert session is not None
    assert client.post("/answer", json=body(session, "castles")).status_code == 200
    replies: list[int] = []
    export = threading.Thread(
        target=lambda: replies.append(client.post("/export", json={"version": session.version}).status_code)
    )
    export.start()
    export.join(0.3)
    assert not replies
    assert not session.talk_path.with_suffix(".pgn").exists()
    slow.let.set()
    export.join(30)
    assert replies == [200]
    assert session.talk_path.with_suffix(".pgn").exists()


def test_a_reading_waits_for_what_the_page_asks(slow: Slow) -> None:
    session = slow.session
    assert session is not None
    thread = threading.Thread(target=session.between, args=(0,))
    with session.attention():
        thread.start()
        thread.join(0.1)
        assert thread.is_alive()
    thread.join(10)
    assert not thread.is_alive()
