"""The server is killed (SIGKILL) while it saves, again and again: every answer it took is on disk, and whole."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from lesson.corrections import corrections_path, read_corrections

ROUNDS = 8

# The server of the page as it is; only the lesson is not made again, so that it does nothing but take and save answers.
SERVER = """
import sys
from pathlib import Path
from lesson.review import app
from lesson.review.session import Remade
made = []
def remake(talk, corrections, rereader=None):
    made[:] = made or [app.pipeline.Rereader().lesson(talk, corrections)[0]]
    return Remade(made[0], {})
app.remake = remake
app.serve(Path(sys.argv[1]), None, 0, False, lambda line: print(line, flush=True))
"""


def post(port: int, cookie: str, path: str, body: dict[str, Any]) -> tuple[int, dict[str, Any]]:
    headers = {"cookie": cookie, "origin": f"http://127.0.0.1:{port}", "content-type": "application/json"}
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as connection:
        connection.request("POST", path, json.dumps(body), headers)
        with connection.getresponse() as reply:
            return reply.status, json.loads(reply.read())


def came_in(address: str) -> tuple[int, str]:
    """Port and cookie."""
    port = int(address.split(":")[2].split("/")[0])
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as connection:
        connection.request("GET", address[address.index("/open") :])
        with connection.getresponse() as reply:
            return port, str(reply.getheader("set-cookie")).split(";")[0]


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is a signal of POSIX")
def test_every_answer_taken_outlives_a_killed_server(tmp_path: Path) -> None:
    talk = tmp_path / "loom.txt"
    talk.write_text(
        "We begin with e4, e5. " + "Now the loom is threaded and the shuttle flies. " * 60, encoding="utf-8"
    )
    chance = random.Random(64)
    taken: list[int] = []
    killed_while_busy = 0
    word = 10
    for _ in range(ROUNDS):
        server = subprocess.Popen([sys.executable, "-c", SERVER, str(talk)], stdout=subprocess.PIPE, text=True)
        assert server.stdout is not None
        address = next(line for line in server.stdout if line.startswith("http"))
        port, cookie = came_in(address.strip())
        timer = threading.Timer(chance.uniform(0.01, 0.35), os.kill, (server.pid, signal.SIGKILL))
        timer.start()
        version = 1
        try:
            while True:
                body = {"version": version, "shown": version, "words": [word, word + 1], "means": "talk"}
                status, reply = post(port, cookie, "/answer", body)
                if status == 409:  # the lesson was numbered on between the two
                    time.sleep(0.001)
                    body["shown"] = int(reply["main"].split('data-serial="')[1].split('"')[0])
                    status, reply = post(port, cookie, "/answer", body)
                if status == 200:
                    taken.append(word)
                    version += 1
                word += 1
        except (OSError, http.client.HTTPException):
            killed_while_busy += 1
        timer.join()
        server.wait(10)
        server.stdout.close()
        on_disk = {c.words[0] for c in read_corrections(corrections_path(talk)).corrections if c.words}
        assert set(taken) <= on_disk
        # what was being saved when the end came may be there or not, but nothing else
        assert len(on_disk - set(taken)) <= killed_while_busy
    assert killed_while_busy == ROUNDS
    assert len(taken) > ROUNDS
