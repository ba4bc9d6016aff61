"""Attacks on the page, each as the attacker would make it.

The headers a browser sends by itself are those of the Fetch standard (https://fetch.spec.whatwg.org, Origin) and of
Fetch Metadata (https://www.w3.org/TR/fetch-metadata/); cookie attributes are those of RFC 6265bis.
"""

from __future__ import annotations

import re
import socket
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.routing import Route
from starlette.testclient import TestClient

from lesson.corrections import corrections_path
from lesson.errors import UsageError
from lesson.read import read_talk
from lesson.review.app import Bell, _bound, make_app
from lesson.review.guard import MAX_BODY_BYTES, MAX_QUERY_BYTES, Doorkeeper
from lesson.review.session import Session
from tests.review.conftest import PORT, remade, run_page

READS = ["/", "/main", "/card", "/media", "/events", "/assets/page.css", "/nosuch"]
CHANGES = ["/answer", "/undo", "/redo", "/export"]
ANSWER = {"version": 1, "shown": 1, "words": [49, 51], "means": "talk"}


def files_beside(session: Session) -> list[str]:
    return sorted(path.name for path in session.talk_path.parent.iterdir())


# -------------------------------------------------------------------------------------------------------------- token


@pytest.mark.parametrize("path", READS)
def test_without_the_cookie_nothing_is_read(stranger: TestClient, path: str) -> None:
    reply = stranger.get(path)
    assert reply.status_code == 403
    assert "pottery" not in reply.text


@pytest.mark.parametrize("path", CHANGES)
def test_without_the_cookie_nothing_is_changed(stranger: TestClient, session: Session, path: str) -> None:
    origin = {"origin": f"http://127.0.0.1:{PORT}", "sec-fetch-site": "same-origin"}
    assert stranger.post(path, json=ANSWER, headers=origin).status_code == 403
    assert files_beside(session) == ["pottery.vtt"]


@pytest.mark.parametrize("token", ["", "wrong", "ü" * 32, "0" * 43])
def test_a_guessed_token_opens_nothing(stranger: TestClient, token: str) -> None:
    assert stranger.get("/open", params={"token": token}).status_code == 403
    assert stranger.get("/").status_code == 403


def test_the_token_works_once(session: Session, door: Doorkeeper) -> None:
    app = make_app(session, door, Bell())
    address = f"http://127.0.0.1:{PORT}"
    with TestClient(app, base_url=address) as first, TestClient(app, base_url=address) as second:
        assert first.get("/open", params={"token": door.token}).status_code == 200
        assert second.get("/open", params={"token": door.token}).status_code == 403
        assert second.get("/").status_code == 403
        assert first.get("/open", params={"token": door.token}).status_code == 200  # the owner reloads
        assert first.get("/").status_code == 200


def test_asking_for_the_head_does_not_use_the_token_up(stranger: TestClient, door: Doorkeeper) -> None:
    assert stranger.head("/open", params={"token": door.token}).status_code == 403
    assert stranger.get("/open", params={"token": door.token}).status_code == 200


def test_the_cookie_is_out_of_reach(stranger: TestClient, door: Doorkeeper) -> None:
    """HttpOnly: no script reads it; SameSite=Strict: no other site's request carries it; no Domain, no lifetime."""
    cookie = stranger.get("/open", params={"token": door.token}).headers["set-cookie"]
    attributes = {part.strip().lower() for part in cookie.split(";")[1:]}
    assert attributes == {"httponly", "samesite=strict", "path=/"}
    assert door.token not in cookie


@pytest.mark.parametrize("value", ["", "x", "ü", "a; b", '"'])
def test_a_forged_cookie_is_no_key(stranger: TestClient, door: Doorkeeper, value: str) -> None:
    cookie = f"{door.cookie}={value}".encode()
    assert stranger.get("/", headers=[(b"cookie", cookie)]).status_code == 403


def test_another_programs_cookie_does_not_matter(client: TestClient, door: Doorkeeper) -> None:
    both = f"lesson_9=stolen; {door.cookie}={client.cookies[door.cookie]}"
    client.cookies.clear()
    assert client.get("/", headers={"cookie": both}).status_code == 200


# --------------------------------------------------------------------------------------------------------------- host


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",  # a name its owner makes point here: DNS rebinding
        f"evil.example:{PORT}",
        f"127.0.0.1.evil.example:{PORT}",
        "127.0.0.1",
        "127.0.0.1:80",
        f"localhost.:{PORT}",
        f"[::1]:{PORT}",
        f"0.0.0.0:{PORT}",
        f"127.0.0.1:{PORT}@evil.example",
        "",
    ],
)
def test_a_strange_host_is_turned_away(client: TestClient, door: Doorkeeper, host: str) -> None:
    for path in ("/", f"/open?token={door.token}", "/assets/page.css"):
        assert client.get(path, headers={"host": host}).status_code == 421


def test_localhost_is_this_machine_too(client: TestClient) -> None:
    cookie = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
    assert client.get("/", headers={"host": f"localhost:{PORT}", "cookie": cookie}).status_code == 200


# ------------------------------------------------------------------------------------------------------------- origin


@pytest.mark.parametrize("path", CHANGES)
@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example", "sec-fetch-site": "cross-site"},
        {"origin": "http://evil.example", "sec-fetch-site": "same-origin"},
        {"origin": f"http://127.0.0.1:{PORT}", "sec-fetch-site": "cross-site"},
        {"origin": f"http://127.0.0.1:{PORT + 1}", "sec-fetch-site": "same-site"},  # another program of this machine
        {"origin": f"https://127.0.0.1:{PORT}", "sec-fetch-site": "same-origin"},
        {"origin": "null", "sec-fetch-site": "same-origin"},  # a sandboxed frame
        {"origin": f"http://localhost:{PORT}", "sec-fetch-site": "same-origin"},
        {"origin": "", "sec-fetch-site": "none"},
    ],
)
def test_a_change_from_elsewhere_is_refused(
    client: TestClient, session: Session, path: str, headers: dict[str, str]
) -> None:
    assert client.post(path, json=ANSWER, headers=headers).status_code == 403
    assert session.version == 1
    assert files_beside(session) == ["pottery.vtt"]


def test_a_change_that_says_nothing_of_its_origin_is_refused(client: TestClient, session: Session) -> None:
    for name in ("origin", "sec-fetch-site"):
        del client.headers[name]
    assert client.post("/answer", json=ANSWER).status_code == 403
    assert session.version == 1


def test_an_old_browser_sends_only_the_origin(client: TestClient, session: Session) -> None:
    del client.headers["sec-fetch-site"]
    assert client.post("/answer", json=ANSWER).status_code == 200
    assert session.version == 2


@pytest.mark.parametrize("path", ["/", "/main", "/card", "/media", "/events"])
@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_site_embeds_nothing(client: TestClient, path: str, site: str) -> None:
    assert client.get(path, headers={"sec-fetch-site": site}).status_code == 403


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""])
def test_a_form_is_no_answer(client: TestClient, session: Session, kind: str) -> None:
    """The content types a form can send without asking first (Fetch standard, CORS-safelisted request-header)."""
    body = '{"version": 1, "shown": 1, "words": [49, 51], "means": "talk"}'
    assert client.post("/answer", content=body, headers={"content-type": kind}).status_code == 415
    assert session.version == 1


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"])
def test_other_methods_are_refused(client: TestClient, method: str) -> None:
    reply = client.request(method, "/answer")
    assert reply.status_code == 405
    assert "access-control-allow-origin" not in reply.headers


def test_a_change_cannot_be_a_link(client: TestClient, session: Session) -> None:
    for path in CHANGES:
        assert client.get(path).status_code == 405
    assert session.version == 1


# -------------------------------------------------------------------------------------------------------------- sizes


def test_a_large_body_is_refused_by_its_length(client: TestClient, session: Session) -> None:
    body = b'{"version": 1, "value": "' + b"x" * MAX_BODY_BYTES + b'"}'
    assert client.post("/answer", content=body, headers={"content-type": "application/json"}).status_code == 413
    assert session.version == 1


def test_a_large_body_without_a_length_is_cut_off(client: TestClient) -> None:
    pieces = (b"x" * 1024 for _ in range(1000))
    reply = client.post("/answer", content=pieces, headers={"content-type": "application/json"})
    assert "content-length" not in reply.request.headers
    assert reply.status_code == 413


@pytest.mark.parametrize("length", ["-1", "1e9", "99999999999", "0x10"])
def test_a_lying_length_is_refused(client: TestClient, length: str) -> None:
    headers = {"content-type": "application/json", "content-length": length}
    assert client.post("/answer", content=b"{}", headers=headers).status_code == 413


def test_a_long_query_is_refused(client: TestClient) -> None:
    assert client.get("/card?at=" + "x" * MAX_QUERY_BYTES).status_code == 414


@pytest.mark.parametrize(
    "body",
    [
        "",
        "[]",
        "null",
        "{",
        '{"version": 1}',
        '{"version": 1, "shown": 1, "words": [49, 51], "means": "nosuch"}',
        '{"version": 1, "shown": 1, "words": [49, 51], "means": "talk", "path": "/etc/passwd"}',
        '{"version": 1, "shown": 1, "words": [49], "means": "talk"}',
        '{"version": 1, "shown": 1, "words": ["a", "b"], "means": "talk"}',
        '{"version": 1, "shown": 1, "words": [49, 51], "means": "typed", "value": "' + "x" * 401 + '"}',
        "[" * 5000,
        b"\xff\xfe",
    ],
)
def test_a_malformed_answer_is_one_line(client: TestClient, session: Session, body: str | bytes) -> None:
    reply = client.post("/answer", content=body, headers={"content-type": "application/json"})
    assert reply.status_code == 400
    assert reply.json()["message"].count("\n") == 0
    assert session.version == 1


@pytest.mark.parametrize("words", [[-1, 3], [3, 1], [0, 10**9], [10**30, 10**30 + 1]])
def test_words_that_are_not_there_are_refused(client: TestClient, session: Session, words: list[int]) -> None:
    assert client.post("/answer", json=ANSWER | {"words": words}).status_code in (400, 422)
    assert session.version == 1


@pytest.mark.parametrize(
    "query", ["first=-5&last=9999999", "first=x", "at=../../etc/passwd", "first=1&last=0", "first="]
)
def test_a_strange_card_does_no_harm(client: TestClient, query: str) -> None:
    reply = client.get(f"/card?{query}")
    assert reply.status_code in (200, 400)
    assert "passwd" not in reply.text


# -------------------------------------------------------------------------------------------------------------- files


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../app.py",
        "/assets/..%2fapp.py",
        "/assets/%2e%2e/templates/page.html",
        "/assets/page.css/../../app.py",
        "/assets//etc/passwd",
        "/assets/",
        "/media/../pottery.vtt",
        "/media?name=/etc/passwd",
        "//etc/passwd",
        "/pottery.vtt",
        "/..%5c..%5capp.py",
        "/assets/page.css%00.txt",
    ],
)
def test_no_address_names_a_file(client: TestClient, path: str) -> None:
    reply = client.get(path)
    assert reply.status_code == 404
    assert "Starlette" not in reply.text


def test_no_route_takes_a_parameter_from_the_path(client: TestClient) -> None:
    assert isinstance(client.app, Starlette)
    routes = [route for route in client.app.routes if isinstance(route, Route)]
    assert routes
    assert [route.path for route in routes if "{" in route.path or route.param_convertors] == []


def test_a_recording_is_the_one_given_and_no_other(session: Session, door: Doorkeeper, tmp_path: Path) -> None:
    media = tmp_path / "voice.ogg"
    media.write_bytes(bytes(range(256)) * 8)
    app = make_app(session, door, Bell(), media)
    with TestClient(app, base_url=f"http://127.0.0.1:{PORT}") as client:
        assert client.get("/media").status_code == 403
        client.get("/open", params={"token": door.token})
        assert client.get("/media").content == media.read_bytes()
        part = client.get("/media", headers={"range": "bytes=256-511"})  # RFC 9110, 14.2
        assert (part.status_code, part.content) == (206, bytes(range(256)))
        assert part.headers["content-range"] == "bytes 256-511/2048"
        assert client.get("/media", headers={"range": "bytes=-16"}).content == bytes(range(240, 256))
        assert client.get("/media", headers={"range": "bytes=4096-"}).status_code == 416


# ------------------------------------------------------------------------------------------------------------- markup

HOSTILE = (
    '<script>document.title="taken"</script> <img src=x onerror=alert(1)> "\' onmouseover=alert(1) x=" '
    "{{7*191}} {% raw %} </span><h1>e4</h1> javascript:alert(1) &lt;b&gt; e5 </textarea> knight f3 <!--"
)


def test_words_of_the_talk_never_become_markup(tmp_path: Path, door: Doorkeeper) -> None:
    path = tmp_path / "<i>hostile'\"&.txt"
    path.write_text(HOSTILE, encoding="utf-8")
    session = Session(path, read_talk(path), remade)
    with TestClient(make_app(session, door, Bell()), base_url=f"http://127.0.0.1:{PORT}") as client:
        client.get("/open", params={"token": door.token})
        texts = [client.get(p).text for p in ("/", "/main", "/card?first=0&last=30")]
    for text in texts:
        tags = set(re.findall(r"<([a-z0-9]+)", text))
        assert "img" not in tags
        assert "<script>" not in text
        assert text.count("<h1") <= 1
        assert "<i>" not in text
        assert "<!--" not in text
        assert "1337" not in text
        assert not re.search(r"<[^>]*\sonmouseover=", text)
        assert "&lt;script&gt;" in text or "&lt;i&gt;" in text


def test_nothing_on_the_page_is_inline_or_from_elsewhere(client: TestClient) -> None:
    for path in ("/", "/main", "/card?first=0&last=1"):
        reply = client.get(path)
        assert re.findall(r"<script(?![^>]*\ssrc=\"/assets/)", reply.text) == []
        assert re.findall(r"\s(?:style|on\w+)=", reply.text) == []
        assert re.findall(r"(?:src|href|action)=\"(?!/|#)", reply.text) == []
        assert "http://" not in reply.text.replace("http://www.w3.org/", "")
        assert "https://" not in reply.text


@pytest.mark.parametrize("path", ["/", "/nosuch", "/assets/page.css", "/media"])
def test_every_reply_carries_the_policy(client: TestClient, path: str) -> None:
    """Content Security Policy Level 3, https://www.w3.org/TR/CSP3/."""
    reply = client.get(path)
    policy = dict(part.strip().split(" ", 1) for part in reply.headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == policy["media-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["form-action"] == "'none'"
    assert "unsafe" not in reply.headers["content-security-policy"]
    assert reply.headers["x-content-type-options"] == "nosniff"
    assert reply.headers["referrer-policy"] == "no-referrer"
    assert reply.headers["cache-control"] == "no-store"
    assert "server" not in reply.headers


def test_a_refusal_carries_it_too(stranger: TestClient) -> None:
    assert "default-src 'none'" in stranger.get("/").headers["content-security-policy"]


# ----------------------------------------------------------------------------------------------------------- loopback


def test_only_this_machine_is_listened_to() -> None:
    with _bound(0) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"


def test_a_taken_port_is_one_line() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other, pytest.raises(UsageError, match="--port"):
        _bound(other.getsockname()[1])
    with pytest.raises(UsageError, match="--port"):
        _bound(99999)


def test_raw_requests_are_turned_away(session: Session) -> None:
    """What no HTTP library would send: two hosts, an absolute address, a websocket."""
    page = run_page(session)
    port = page.listener.getsockname()[1]
    host = f"127.0.0.1:{port}"
    try:
        for request in (
            f"GET / HTTP/1.1\r\nHost: {host}\r\nHost: evil.example\r\n\r\n",
            "GET / HTTP/1.0\r\n\r\n",
            f"GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\nX-Forwarded-Host: {host}\r\n\r\n",
            f"GET /events HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n",
        ):
            with socket.create_connection(("127.0.0.1", port), timeout=5) as raw:
                raw.sendall(request.encode())
                status = raw.recv(200).split(b" ")[1]
            assert status in (b"400", b"403", b"421"), request
    finally:
        page.stop()
    assert not corrections_path(session.talk_path).exists()
