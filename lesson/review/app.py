"""The local page: routes, and the server around them."""

from __future__ import annotations

import asyncio
import gc
import json
import mimetypes
import socket
import webbrowser
from collections.abc import AsyncIterator, Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

import click
import uvicorn
from pydantic import BaseModel, ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route

from lesson import pipeline
from lesson.corrections import Corrections
from lesson.errors import LessonError, UsageError
from lesson.model import Talk
from lesson.read import read_talk
from lesson.read.prepared import read_prepared
from lesson.review.answers import Answer, Change
from lesson.review.guard import Doorkeeper, Guard, welcome
from lesson.review.page import HERE, card_part, main_part, read_share, render
from lesson.review.session import Remade, Session, Stale
from lesson.write import write_files

GLANCE_S = 2.0
"""Seconds an answer waits at most for a glance at what it changed; one takes a tenth of a second."""
QUICK_S = 0.03
"""Seconds an answer at which no glance is possible waits for the lesson made again; then the page is told to expect it
later."""

_ASSETS = {
    "page.css": "text/css",
    "marks.css": "text/css",
    "remote.js": "text/javascript",
    "page.js": "text/javascript",
    "keys.js": "text/javascript",
    "sound.js": "text/javascript",
    "icon.svg": "image/svg+xml",
}


Wanted = TypeVar("Wanted", bound=BaseModel)


def serve(
    talk_path: Path,
    media: Path | None,
    port: int,
    open_browser: bool,
    say: Callable[[str], None] = click.echo,
    prepared: Path | None = None,
) -> None:
    """Serve the review page of a talk on this machine until the process is interrupted.

    `port` 0 takes any free one. The address, which works once, goes to `say` when the talk is read. `prepared` is the
    teacher's own analysis, a PGN file. Raises LessonError.
    """
    if media is not None and not media.is_file():
        raise UsageError(f"{media}: there is no such recording")
    own = read_prepared(prepared) if prepared is not None else None
    talk = read_talk(talk_path)
    pipeline.refuse_collisions([talk_path])
    bell = Bell()
    with _bound(port) as listener:
        say("Reading the talk; the address of the page follows.")
        rereader = pipeline.Rereader(own)
        makers = partial(remake, rereader=rereader), partial(glance, rereader=rereader)
        session = Session(talk_path, talk, makers[0], bell.ring, makers[1])
        rereader.between = session.between
        door = Doorkeeper(listener.getsockname()[1])
        server = Server(make_app(session, door, bell, media), bell)
        say(door.address)
        if open_browser:
            webbrowser.open(door.address)
        try:
            server.run(sockets=[listener])
        except KeyboardInterrupt:
            return  # this is how a review ends: every answer is on disk already


def remake(talk: Talk, corrections: Corrections, rereader: pipeline.Rereader | None = None) -> Remade:
    """The lesson of the talk with these corrections, by the same stages that `lesson convert` runs."""
    lesson, applied = (rereader or pipeline.Rereader()).lesson(talk, corrections)
    gc.freeze()  # what a reading leaves behind is long-lived; to look through it takes longer than an answer may
    return Remade(lesson, applied.places)


def glance(talk: Talk, corrections: Corrections, rereader: pipeline.Rereader) -> Remade | None:
    """What can be said at once of the lesson with these corrections."""
    found = rereader.glance(talk, corrections)
    return None if found is None else Remade(found[0], found[1].places, found[2])


def _bound(port: int) -> socket.socket:
    """A socket of the loopback interface. Raises UsageError where the port is taken."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("127.0.0.1", port))
        listener.listen()  # now, so that a browser quicker than the server waits and is not refused
    except (OSError, OverflowError) as error:
        listener.close()
        raise UsageError(f"port {port} cannot be used ({error}); name another with --port") from None
    return listener


class Bell:
    """Wakes the open pages from any thread."""

    def __init__(self) -> None:
        self._waiting: set[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = set()
        self._over = False

    def close(self) -> None:
        """Let every page go."""
        self._over = True
        self.ring()

    def ring(self) -> None:
        for loop, event in tuple(self._waiting):
            if not loop.is_closed():
                loop.call_soon_threadsafe(event.set)

    async def heard(self, state: Callable[[], str]) -> AsyncIterator[str]:
        """The state now, then each time it has changed at a ring."""
        event = asyncio.Event()
        entry = (asyncio.get_running_loop(), event)
        self._waiting.add(entry)
        try:
            while not self._over:
                yield state()
                await event.wait()
                event.clear()
        finally:
            self._waiting.discard(entry)


class Server(uvicorn.Server):
    """The server of one review: quiet, and not held up by open pages when it ends."""

    def __init__(self, app: Starlette, bell: Bell) -> None:
        super().__init__(
            uvicorn.Config(
                app,
                ws="none",
                log_config=None,
                log_level="critical",
                access_log=False,
                server_header=False,
                timeout_graceful_shutdown=1,
            )
        )
        self._bell = bell

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._bell.close()
        await super().shutdown(sockets)


def make_app(session: Session, door: Doorkeeper, bell: Bell, media: Path | None = None) -> Starlette:
    """The application behind its guard. No part of an address ever names a file: every file served is named here."""
    kind = _media_kind(media)

    async def enter(request: Request) -> Response:
        if not door.swap(request.query_params.get("token", "")) and not door.knows(request.headers):
            return PlainTextResponse("this address has been used; start the review again for a new one\n", 403)
        response = welcome()
        door.hand_out(response)
        return response

    def page(request: Request) -> Response:
        return HTMLResponse(render("page.html", session=session, media=kind, main=main_part(session)))

    def main(request: Request) -> Response:
        with session.attention():
            return HTMLResponse(main_part(session))

    def card(request: Request) -> Response:
        query = request.query_params
        try:
            first, last = (int(query.get(name, "0")[:9]) for name in ("first", "last"))
        except ValueError:
            return PlainTextResponse("words are numbers\n", 400)
        with session.attention():
            return HTMLResponse(card_part(session, first, last, query.get("at", ""), query.get("flip") == "yes"))

    def recording(request: Request) -> Response:
        if media is None:
            return PlainTextResponse("no recording was given\n", 404)
        return FileResponse(media, media_type=mimetypes.guess_type(media.name)[0] or "application/octet-stream")

    async def events(request: Request) -> Response:
        def state() -> str:
            now = {"version": session.version, "serial": session.serial, "read": read_share(session)}
            return f"data: {json.dumps(now)}\n\n"

        return StreamingResponse(bell.heard(state), media_type="text/event-stream")

    def export() -> str:
        session.settle(600)
        files = write_files(session.shown.lesson, session.talk_path.stem, session.talk_path.parent)
        return "Written beside the talk: " + ", ".join(file.name for file in files) + "."

    async def write(request: Request) -> Response:
        return await _changed(session, request, Change, lambda _: export())

    async def answer(request: Request) -> Response:
        return await _changed(session, request, Answer, session.answer)

    async def undo(request: Request) -> Response:
        return await _changed(session, request, Change, lambda change: session.undo(change.version))

    async def redo(request: Request) -> Response:
        return await _changed(session, request, Change, lambda change: session.redo(change.version))

    routes = [
        Route("/open", enter, methods=["GET"]),
        Route("/", page),
        Route("/main", main),
        Route("/card", card),
        Route("/media", recording),
        Route("/events", events),
        Route("/answer", answer, methods=["POST"]),
        Route("/undo", undo, methods=["POST"]),
        Route("/redo", redo, methods=["POST"]),
        Route("/export", write, methods=["POST"]),
        *(Route(f"/assets/{name}", _asset(name, kind)) for name, kind in _ASSETS.items()),
    ]
    return Starlette(routes=routes, middleware=[Middleware(Guard, door=door)])


async def _changed(
    session: Session, request: Request, model: type[Wanted], change: Callable[[Wanted], str | None]
) -> Response:
    """Read a change, make it, and answer with what the page shows now."""
    try:
        wanted = model.model_validate_json(await request.body())
    except ValidationError as error:
        where = ".".join(str(part) for part in error.errors(include_url=False, include_input=False)[0]["loc"])
        return JSONResponse({"message": f"that is no answer ({where or 'body'})"}, 400)

    def work() -> Response:
        try:
            message, status = change(wanted) or "", 200
            with session.attention():
                if session.glimpse(GLANCE_S):
                    return JSONResponse({"message": message, "main": main_part(session)}, status)
            session.settle(QUICK_S)
        except Stale as error:
            message, status = str(error), 409
        except UsageError as error:
            return JSONResponse({"message": str(error)}, 422)
        except LessonError as error:
            return JSONResponse({"message": f"Not saved: {error}"}, 500)
        with session.attention():
            return JSONResponse({"message": message, "main": main_part(session)}, status)

    return await run_in_threadpool(work)


def _asset(name: str, kind: str) -> Callable[[Request], Response]:
    content = (HERE / "assets" / name).read_bytes()
    return lambda request: Response(content, media_type=kind)


def _media_kind(media: Path | None) -> str:
    """The element that plays the recording, "" without one."""
    if media is None:
        return ""
    return "video" if (mimetypes.guess_type(media.name)[0] or "").startswith("video/") else "audio"
