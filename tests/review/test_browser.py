"""The page in Debian's Chromium: by key, by typing, on the board, with sound, narrow, dark, and heard by axe-core."""

from __future__ import annotations

import functools
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, expect, sync_playwright

from lesson.corrections import read_corrections
from lesson.read import read_talk
from lesson.review.session import Session
from tests.review.conftest import BEYOND, DOUBT, UNSAID, Running, remade, run_page
from tests.review.test_session import words

CHROMIUM = shutil.which("chromium")
AXE = Path(__file__).resolve().parent / "axe"
PATIENCE_MS = 30_000  # an answer makes the whole talk be read again, on a machine that may be busy

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="chromium is missing: apt-get install chromium")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def running(session: Session) -> Iterator[Running]:
    page = run_page(session)
    yield page
    page.stop()


class Seen(list[str]):
    """What went wrong in a page, and every address it asked for."""

    def __init__(self) -> None:
        self.addresses: list[str] = []


def is_fault(message: ConsoleMessage) -> bool:
    """Whether the console speaks of a fault; an answer refused (409, 422) is none, though Chromium notes it."""
    return message.type == "error" and not re.search(r"status of (409|422)", message.text)


def opened(browser: Browser, running: Running, **options: Any) -> tuple[Page, Seen]:
    """A window that came in with the token and shows the first question."""
    context = browser.new_context(**options)
    page = context.new_page()
    seen = Seen()
    page.on("console", lambda message: seen.append(f"{message.text} {message.location}") if is_fault(message) else None)
    page.on("pageerror", lambda error: seen.append(str(error)))
    page.on("request", lambda request: seen.addresses.append(request.url))
    page.goto(running.door.address)
    page.wait_for_selector("#phrase")
    expect(page).to_have_url(f"http://{running.door.hosts[0]}/")
    return page, seen


@pytest.fixture
def page(browser: Browser, running: Running) -> Iterator[Page]:
    page, seen = opened(browser, running, viewport={"width": 1280, "height": 860})
    yield page
    assert seen == []
    assert [address for address in seen.addresses if not address.startswith(f"http://{running.door.hosts[0]}/")] == []
    page.context.close()


SELECT = """([first, last]) => {
  const holder = (word) => [...document.querySelectorAll("#talk [data-first]")]
    .find((e) => Number(e.dataset.first) <= word && word < Number(e.dataset.last));
  const edge = (word, end) => {
    const element = holder(word);
    const found = [...element.firstChild.data.matchAll(/\\S+/g)][word - Number(element.dataset.first)];
    return [element.firstChild, found.index + (end ? found[0].length : 0)];
  };
  getSelection().setBaseAndExtent(...edge(first, false), ...edge(last - 1, true));
  holder(first).dispatchEvent(new MouseEvent("mouseup", { bubbles: true }));
}"""


def choose(page: Page, running: Running, text: str) -> None:
    """Mark words with the mouse, whatever they were taken for."""
    first, last = words(running.session, text)
    for _ in range(3):  # like a person who marks again what was drawn anew under the mouse
        page.evaluate(SELECT, [first, last])
        page.wait_for_timeout(100)
        if page.locator("#phrase").get_attribute("data-first") == str(first):
            break
    expect(page.locator("#phrase")).to_have_attribute("data-first", str(first))
    expect(page.locator("#phrase")).to_have_attribute("data-last", str(last))


def settled(page: Page, version: int) -> None:
    """Wait until the page shows the lesson that holds every answer up to `version`."""
    expect(page.locator("#state")).to_have_attribute("data-version", str(version), timeout=PATIENCE_MS)
    expect(page.locator("#state")).to_have_attribute("data-pending", "", timeout=PATIENCE_MS)


def saved(running: Running) -> list[tuple[str, str, str]]:
    return [(c.kind, c.text, c.move) for c in read_corrections(running.session.path).corrections]


def left(page: Page) -> int:
    return int(page.locator("#state").get_attribute("data-left") or "-1")


# ------------------------------------------------------------------------------------------------------------ answers


def test_answering_by_key(page: Page, running: Running) -> None:
    asked = next(q for q in running.session.shown.lesson.unresolved if q.text == "e5,")
    page.locator(f"#q{asked.words[0]}-{asked.words[1]}").click()
    expect(page.locator("#phrase")).to_have_attribute("data-first", str(asked.words[0]))
    san = page.locator(".offer[aria-keyshortcuts='2'] b").inner_text()
    page.keyboard.press("2")
    settled(page, 2)
    assert saved(running) == [("move", asked.text, san.rstrip("+#"))]
    expect(page.locator(f"#q{asked.words[0]}-{asked.words[1]}")).to_have_count(0)
    assert re.search(r"\d+ questions? left", page.locator("#said").inner_text())
    expect(page.locator("#talk .st.answered")).to_have_count(1)


def test_not_a_move_undo_redo_and_reload(page: Page, running: Running) -> None:
    text = page.locator("#talk").inner_text()
    choose(page, running, "b3")
    page.keyboard.press("0")
    settled(page, 2)
    expect(page.locator("#talk .st.settled")).to_have_text(re.compile("^b3"))
    page.keyboard.press("u")
    settled(page, 3)
    assert saved(running) == []
    assert page.locator("#talk").inner_text().replace(" | ", "") == text or left(page) > 0
    page.keyboard.press("Control+y")
    settled(page, 4)
    assert saved(running) == [("talk", "b3", "")]
    page.reload()
    page.wait_for_selector("#phrase")
    expect(page.locator("#talk .st.settled")).to_have_text(re.compile("^b3"))
    assert not page.locator("#undo").is_disabled()


@pytest.mark.parametrize("typed", ["b3", "pawn to b3"])
def test_answering_by_typing(page: Page, running: Running, typed: str) -> None:
    choose(page, running, "pawn goes to b4.")
    page.keyboard.press("t")
    page.keyboard.type(typed)
    page.keyboard.press("Enter")
    settled(page, 2)
    assert saved(running) == [("move", "pawn goes to b4.", "b3")]
    expect(page.locator("#tree")).to_contain_text("5. b3")
    expect(page.locator("#talk .changed").first).to_be_visible()


def test_a_typed_slip_is_told_and_stays_in_the_line(page: Page, running: Running) -> None:
    choose(page, running, "pawn goes to b4.")
    page.fill("#answer", "knight to the moon")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("no legal move")
    expect(page.locator("#answer")).to_have_value("knight to the moon")
    assert saved(running) == []


def test_answering_on_the_board(page: Page, running: Running) -> None:
    choose(page, running, "pawn goes to b4.")
    page.locator("[data-square=b2]").click()
    expect(page.locator("#board .reach")).to_have_count(2)
    page.locator("[data-square=b4]").click()
    settled(page, 2)
    assert saved(running) == [("move", "pawn goes to b4.", "b4")]


def test_going_back_by_a_click_in_the_tree(page: Page, running: Running) -> None:
    choose(page, running, "castles")
    page.keyboard.press("b")
    page.locator("#tree .mv", has_text="Nc6").first.click()
    settled(page, 2)
    correction = read_corrections(running.session.path).corrections[0]
    assert (correction.kind, correction.path) == ("return", ("e2e4", "e7e5", "g1f3", "b8c6"))


def test_going_back_by_a_click_on_the_board(page: Page, running: Running) -> None:
    choose(page, running, "castles")
    page.keyboard.press("b")
    page.locator("#tree .mv", has_text="Nc6").first.focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator(".line")).to_contain_text("3. Bc4")
    page.locator("[data-square=a4]").click()
    settled(page, 2)
    correction = read_corrections(running.session.path).corrections[0]
    assert (correction.kind, correction.path) == ("return", ("e2e4", "e7e5", "g1f3", "b8c6", "f1c4"))


def test_words_nobody_marked_are_chosen_with_the_mouse(page: Page, running: Running) -> None:
    _, last = words(running.session, "clay")
    choose(page, running, "clay")
    page.keyboard.press(".")
    expect(page.locator("#phrase")).to_have_attribute("data-last", str(last + 1))


def test_the_files_are_written_without_leaving_the_page(page: Page, running: Running) -> None:
    page.click("#export")
    expect(page.locator("#said")).to_contain_text("pottery.pgn")
    assert running.session.talk_path.with_name("pottery.pgn").exists()


def test_the_second_window_is_told_and_loses_nothing(page: Page, running: Running) -> None:
    other = page.context.new_page()
    other.goto(f"http://{running.door.hosts[0]}/")
    other.wait_for_selector("#phrase")
    choose(page, running, "b3")
    page.keyboard.press("0")
    settled(page, 2)
    settled(other, 2)
    expect(other.locator("#talk .st.settled")).to_have_text(re.compile("^b3"))
    expect(other.locator("#said")).to_contain_text("nother window")
    choose(other, running, "castles")
    other.keyboard.press("0")
    settled(other, 3)
    settled(page, 3)
    assert [text for _, text, _ in saved(running)] == ["b3", "castles"]


# ------------------------------------------------------------------------------------------------------- keyboard only


def test_by_keyboard_alone(page: Page, running: Running) -> None:
    """From the first tab on: to the board, a move there, to the text, to the tree, help and back."""
    page.reload()
    page.wait_for_selector("#phrase")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "desk"
    first = next(s for s in running.session.shown.stretches if not s.plain)
    for _ in range(60):
        if page.locator("#phrase").get_attribute("data-first") == str(first.first):
            break
        page.keyboard.press("ArrowLeft")
        page.wait_for_timeout(60)
    expect(page.locator("#phrase")).to_have_attribute("data-first", str(first.first))
    for _ in range(60):
        if page.evaluate("document.activeElement.matches('#board .square')"):
            break
        page.keyboard.press("Shift+Tab")
    walk(page, "b2")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("b4")
    walk(page, "b4")
    page.keyboard.press("Enter")
    settled(page, 2)
    assert saved(running) == [("move", first.text, "b4")]
    page.keyboard.press("?")
    expect(page.locator("#help")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#help")).to_be_hidden()
    page.keyboard.press("n")
    assert page.evaluate("document.activeElement.className").startswith("ask")


def test_what_the_board_denies_is_reached_by_keyboard(page: Page, running: Running) -> None:
    doubt = page.get_by_role("region", name="The board says otherwise").get_by_role("button", name=DOUBT)
    expect(doubt).to_contain_text("0:23")
    for _ in range(30):
        page.keyboard.press("Tab")
        if doubt.evaluate("element => element === document.activeElement"):
            break
    expect(doubt).to_be_focused()
    page.keyboard.press("Enter")
    first, last = words(running.session, "castles")
    expect(page.locator("#phrase")).to_have_attribute("data-first", str(first))
    expect(page.locator("#phrase")).to_have_attribute("data-last", str(last))
    expect(doubt).to_have_attribute("aria-current", "true")
    page.keyboard.press("ArrowDown")
    expect(doubt).to_be_focused()


def test_notes_on_the_analysis_show_their_position_and_their_words(page: Page, running: Running) -> None:
    room = page.get_by_role("region", name="Beside your analysis")
    unsaid, beyond = room.get_by_role("button", name=UNSAID), room.get_by_role("button", name=BEYOND)
    unsaid.click()
    expect(page.locator("#board .square[data-square=e4] .man")).to_have_class(re.compile("white"))
    expect(page.locator("#board .square[data-square=e5] .man")).to_have_count(0)
    expect(unsaid).to_have_attribute("aria-current", "true")
    unsaid.focus()
    page.keyboard.press("ArrowDown")
    expect(beyond).to_be_focused()
    expect(page.locator("#phrase")).to_have_attribute("data-first", str(words(running.session, "c3,")[0]))


def walk(page: Page, square: str) -> None:
    """With the arrow keys to a square."""
    for _ in range(16):
        here = page.evaluate("document.activeElement.dataset.square")
        if here == square:
            return
        if here[0] != square[0]:
            page.keyboard.press("ArrowRight" if here[0] < square[0] else "ArrowLeft")
        else:
            page.keyboard.press("ArrowUp" if here[1] < square[1] else "ArrowDown")
    raise AssertionError(f"{square} is not reached")


def test_single_keys_can_be_switched_off(page: Page, running: Running) -> None:
    """WCAG 2.2, 2.1.4: a shortcut of one character can be turned off."""
    choose(page, running, "b3")
    page.click("#help-open")
    page.uncheck("#single")
    page.click("#help-close")
    page.keyboard.press("0")
    page.wait_for_timeout(200)
    assert saved(running) == []
    page.locator(".offer[aria-keyshortcuts='0']").click()
    settled(page, 2)


# ---------------------------------------------------------------------------------------------------------- appearance


def marked(page: Page) -> dict[str, tuple[str, str]]:
    """For each mark in the text what shows it when all colours are taken away: line style, weight, slant; and sign."""
    found = page.evaluate(
        """() => [...document.querySelectorAll("#talk .st")].map((e) => {
          const s = getComputedStyle(e);
          const line = [s.textDecorationLine, s.textDecorationStyle, s.textDecorationThickness, s.fontStyle,
            s.fontWeight, s.borderBottomStyle].join(" ");
          return [e.classList[1], line, e.querySelector(".says").textContent.replace(/[\\w+#=-]/g, "")];
        })"""
    )
    return {mark: (line, sign) for mark, line, sign in found}


def test_marks_differ_without_colour(page: Page) -> None:
    marks = marked(page)
    assert len(marks) >= 3
    assert len(set(marks.values())) == len(marks)


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_narrow_and_dark(browser: Browser, running: Running, width: int, scheme: str) -> None:
    page, seen = opened(browser, running, viewport={"width": width, "height": 740}, color_scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    background = page.evaluate("getComputedStyle(document.body).backgroundColor")
    red, *_ = map(int, re.findall(r"\d+", background))
    assert (red < 80) == (scheme == "dark")
    box = page.locator("#board").bounding_box()
    assert box is not None
    assert box["width"] >= 300
    choose(page, running, "b3")
    page.locator(".offer[aria-keyshortcuts='0']").click()
    settled(page, 2)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert seen == []
    page.context.close()


@functools.cache
def axe() -> str:
    """The rules, from the npm package in the lock file, installed on first use."""
    script = AXE / "node_modules" / "axe-core" / "axe.min.js"
    if not script.exists():
        npm = shutil.which("npm")
        assert npm, "npm is missing: apt-get install npm"
        run = subprocess.run([npm, "ci", "--no-audit", "--no-fund"], cwd=AXE, capture_output=True, text=True)
        assert run.returncode == 0, f"npm ci in {AXE} failed:\n{run.stderr}"
    return script.read_text(encoding="utf-8")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_axe_finds_nothing_serious(browser: Browser, running: Running, width: int, scheme: str) -> None:
    page, _ = opened(browser, running, viewport={"width": width, "height": 860}, color_scheme=scheme, bypass_csp=True)
    page.locator(".offer").first.click()
    settled(page, 2)
    page.locator("details summary").click()
    assert violations(page) == []
    page.locator("#help-open").click()
    assert violations(page) == []
    page.context.close()


def violations(page: Page) -> list[str]:
    page.evaluate(axe())
    found = page.evaluate("axe.run().then((result) => result.violations)")
    return [
        f"{v['id']}: {v['help']}: {v['nodes'][0]['html'][:120]}"
        for v in found
        if v["impact"] in ("serious", "critical")
    ]


def test_axe_would_find_something(page: Page, browser: Browser, running: Running) -> None:
    """The check can fail: a button without a name is found."""
    context = browser.new_context(bypass_csp=True, storage_state=page.context.storage_state())
    bare = context.new_page()
    bare.goto(f"http://{running.door.hosts[0]}/")
    bare.wait_for_selector("#phrase")
    bare.evaluate("document.querySelector('#export').textContent = ''")
    assert any(found.startswith("button-name") for found in violations(bare))
    context.close()


def test_a_screen_reader_hears_names_and_roles(page: Page, running: Running) -> None:
    assert page.get_by_role("region", name="Board and answers").count() == 1
    assert page.get_by_role("button", name="e1, white king").count() == 1
    assert page.get_by_role("group", name=re.compile("Board, (White|Black) to move")).count() == 1
    assert page.get_by_role("button", name=re.compile(r"^e5, \(played.*\):\W*e5")).count() == 1
    assert page.get_by_role("navigation", name="The study").count() == 1
    assert page.locator("#said").get_attribute("aria-live") == "polite"


# --------------------------------------------------------------------------------------------------------------- sound


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The talk read aloud by a synthetic voice, silence put after it up to 34 seconds and more."""
    voice = shutil.which("espeak-ng")
    assert voice, "espeak-ng is missing: apt-get install espeak-ng"
    path = tmp_path_factory.mktemp("voice") / "pottery.wav"
    text = "Good evening to the pottery club. We begin with e4, e5, knight f3, knight c6. " * 8
    subprocess.run([voice, "-w", str(path), text], check=True, timeout=60)
    return path


def until(page: Page, condition: str) -> None:
    """Wait for a condition; Playwright's own way evaluates strings inside the page, which its policy forbids."""
    for _ in range(PATIENCE_MS // 25):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(25)
    raise AssertionError(condition)


def test_the_words_are_played_and_no_more(browser: Browser, session: Session, recording: Path) -> None:
    running = run_page(session, recording)
    try:
        page, seen = opened(browser, running)
        choose(page, running, "castles")
        start = float(page.locator("#phrase").get_attribute("data-start") or 0) / 1000
        end = float(page.locator("#phrase").get_attribute("data-end") or 0) / 1000
        page.check("#slow")
        page.keyboard.press("l")
        until(page, "!document.querySelector('#player').paused")
        assert page.evaluate("document.querySelector('#player').playbackRate") < 1
        begun = page.evaluate("document.querySelector('#player').currentTime")
        assert start - 1.5 <= begun <= start + 0.5
        page.wait_for_selector("#talk .spoken", timeout=PATIENCE_MS)
        until(page, "document.querySelector('#player').paused")
        stopped = page.evaluate("document.querySelector('#player').currentTime")
        assert end <= stopped <= end + 2
        page.evaluate("document.querySelector('#player').currentTime = 2")
        until(page, "!document.querySelector('#player').seeking")
        assert abs(page.evaluate("document.querySelector('#player').currentTime") - 2) < 0.1
        assert seen == []
        page.context.close()
    finally:
        running.stop()


def test_without_times_there_is_nothing_to_play(browser: Browser, recording: Path, tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("We begin with e4, e5, knight f3.", encoding="utf-8")
    running = run_page(Session(path, read_talk(path), remade), recording)
    try:
        page, seen = opened(browser, running)
        expect(page.locator("#listen")).to_be_disabled()
        assert seen == []
        page.context.close()
    finally:
        running.stop()
