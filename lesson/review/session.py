"""One talk under correction: the answers given, saved as they come, and the lesson made again from them."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from lesson.corrections import Corrections, corrections_path, corrections_text, parse_corrections, read_corrections
from lesson.errors import DataError, LessonError, UsageError
from lesson.model import Lesson, Talk
from lesson.review.answers import Answer, with_answer
from lesson.review.changes import Changes, changes
from lesson.review.questions import ranked
from lesson.review.shown import Shown
from lesson.write.files import write_whole

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Remade:
    """A lesson made with corrections; `places` are, by id of the correction, the words it was found at. Words from
    number `until` on have not been read again yet; None: all have."""

    lesson: Lesson
    places: Mapping[str, Span]
    until: int | None = None


Remake = Callable[[Talk, Corrections], Remade]
"""Makes the lesson of a talk again with these corrections."""

Glance = Callable[[Talk, Corrections], Remade | None]
"""Makes at once what can be made at once, for the time until the lesson is; None where there is nothing to go by."""

PATIENCE_S = 1.0
"""Seconds a reading rests while the page asks for something; two things at once would be done at half the speed."""
BREATH_S = 0.05
"""Seconds a reading lets go by before it begins, in which the response with the glance leaves the house."""
BELL_S = 0.5
"""Seconds between two reports of how far a reading has come."""


class Overtaken(Exception):
    """A reading is given up, because there is a newer answer."""


class Stale(LessonError):
    """The page that asked for a change looked at something that is not so any more."""


class Session:
    """The state behind the page; every method may be called from any thread.

    `version` counts the changes to the corrections, `serial` the lessons shown. An answer is on disk before the method
    that gives it returns; the lesson follows as soon as it is made (`pending` until then). Until then a glance at it is
    shown, in which words from number `until` on have not been read again; `at` is the word that is being read.
    """

    def __init__(
        self,
        talk_path: Path,
        talk: Talk,
        remake: Remake,
        notify: Callable[[], None] = lambda: None,
        glance: Glance = lambda talk, corrections: None,
    ) -> None:
        self.talk_path, self.talk = talk_path, talk
        self.path = corrections_path(talk_path)
        self.notify = notify
        self.version, self.serial = 1, 1
        self.pending = False
        self.until: int | None = None
        self.at = 0
        self.trouble = ""
        self.changes = Changes(frozenset(), "")
        self.corrections = read_corrections(self.path)
        self._on_disk = _text_of(self.path)
        self._remake, self._glance = remake, glance
        self._lock = threading.RLock()
        self._news = threading.Condition(self._lock)
        self._asking = 0
        self._made_from = self._tried = self._glanced = 1
        self._rung = 0.0
        self._worker: threading.Thread | None = None
        made = self.corrections.corrections
        self._past = [Corrections(corrections=made[:count]) for count in range(len(made))]
        self._future: list[Corrections] = []
        remade = remake(talk, self.corrections)
        self.shown = Shown(remade.lesson, remade.places.values())
        self._compare_with = self._seen = self.shown

    # ---------------------------------------------------------------------------------------------------- the changes

    def answer(self, answer: Answer) -> None:
        """Take an answer. Raises Stale where the page was behind, UsageError where the answer makes no sense."""
        with self.attention(), self._lock:
            self._refuse_stale(answer.version)
            if answer.shown != self.serial:
                raise Stale("the talk has just been read again; look at the words and answer once more")
            corrections = with_answer(self.corrections, answer, self.shown)
            before = self.corrections
            self._become(corrections)
            self._past.append(before)
            self._future.clear()
            if answer.means not in ("word", "title", "side"):
                self.shown = self.shown.with_answered(answer.words)
            self._make_again()

    def undo(self, version: int) -> None:
        """Take the last change back. Raises UsageError where there is none, Stale where the page was behind."""
        self._step(version, self._past, self._future, "nothing is left to undo")

    def redo(self, version: int) -> None:
        """Make the change again that was taken back last. Raises as `undo` does."""
        self._step(version, self._future, self._past, "nothing is left to redo")

    @property
    def can_undo(self) -> bool:
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        return bool(self._future)

    def _step(self, version: int, source: list[Corrections], target: list[Corrections], empty: str) -> None:
        with self.attention(), self._lock:
            self._refuse_stale(version)
            if not source:
                raise UsageError(empty)
            before = self.corrections
            self._become(source[-1])
            source.pop()
            target.append(before)
            self._make_again()

    def _refuse_stale(self, version: int) -> None:
        if version != self.version:
            raise Stale("another window has answered meanwhile; this one shows it now, and nothing of either is lost")

    def _become(self, corrections: Corrections) -> None:
        """Make these the corrections, on disk first; what another program wrote there meanwhile is taken over."""
        if _text_of(self.path) != self._on_disk:
            self._take_over()
            raise Stale(f"{self.path.name} was changed by another program; what it says now is shown")
        text = corrections_text(corrections)
        write_whole(self.path, text)
        self._on_disk = text
        self.corrections = corrections
        self.version += 1

    def _take_over(self) -> None:
        text = _text_of(self.path)
        corrections = parse_corrections(text, str(self.path)) if text else Corrections()
        self._past.append(self.corrections)
        self._future.clear()
        self._on_disk, self.corrections = text, corrections
        self.version += 1
        self._make_again()

    # ----------------------------------------------------------------------------------------------------- the lesson

    def _make_again(self) -> None:
        self._seen = self.shown
        if not self.pending:
            self._compare_with = self.shown
            self.pending = True
            self._worker = threading.Thread(target=self._work, name="remake", daemon=True)
            self._worker.start()
        self.notify()

    def _work(self) -> None:
        while True:
            with self._lock:
                version, corrections = self.version, self.corrections
                self._made_from = version
            try:
                glimpse = self._made(self._glance, corrections)[0]
                with self._lock:
                    if version != self.version:
                        continue
                    if glimpse is not None:
                        self._show(glimpse)
                        self._glanced = version
                    self._tried = version
                    self._news.notify_all()
                self.notify()
                if glimpse is not None:
                    self._give_way()
                    with self._news:
                        self._news.wait_for(lambda: self._made_from != self.version, BREATH_S)
                remade, trouble = self._made(self._remake, corrections)
            except Overtaken:
                continue
            with self._lock:
                self.trouble = trouble
                if remade is not None and version == self.version:
                    self._show(remade)
                if version == self.version:
                    self.pending, self.until = False, None
                    self._news.notify_all()
                    break
        self.notify()

    def _made(self, make: Glance, corrections: Corrections) -> tuple[Remade | None, str]:
        try:
            return make(self.talk, corrections), ""
        except Overtaken:
            raise
        except LessonError as error:
            return None, str(error)
        except Exception as error:  # a fault of ours must not take the page down: the answers are on disk
            return None, f"a fault of the program itself ({type(error).__name__}); the answers are saved"

    def _show(self, remade: Remade) -> None:
        old = self._compare_with if remade.until is None else self._seen
        self.shown = Shown(remade.lesson, remade.places.values())
        self.changes = changes(old, self.shown, (len(ranked(old)), len(ranked(self.shown))), remade.until)
        self.until, self.at = remade.until, remade.until or 0
        self.serial += 1

    def between(self, word: int) -> None:
        """Called all the time while the lesson is made: what the page asks for goes first. Raises Overtaken."""
        if self._made_from != self.version:
            raise Overtaken
        if self._asking:
            self._give_way()
        if time.monotonic() - self._rung > BELL_S:
            self.at, self._rung = word, time.monotonic()
            self.notify()

    def _give_way(self) -> None:
        """Wait while the page asks for something and there is no newer answer."""
        with self._news:
            self._news.wait_for(lambda: not self._asking or self._made_from != self.version, PATIENCE_S)

    @contextmanager
    def attention(self) -> Iterator[None]:
        """While this holds, a lesson that is being made waits."""
        with self._news:
            self._asking += 1
        try:
            yield
        finally:
            with self._news:
                self._asking -= 1
                self._news.notify_all()

    def glimpse(self, timeout_s: float) -> bool:
        """Wait until what the last answer changed can be seen, at a glance or whole; False where only the whole lesson
        will show it."""
        with self._news:
            self._news.wait_for(lambda: self._tried == self.version or not self.pending, timeout_s)
            return self._glanced == self.version or not self.pending

    def settle(self, timeout_s: float) -> bool:
        """Wait until the lesson holds every answer, at most so long; whether it does."""
        worker = self._worker
        if worker is not None:
            worker.join(timeout_s)
        return not self.pending


def _text_of(path: Path) -> str:
    """The file as it stands, "" for none. Raises DataError."""
    try:
        return path.read_bytes().decode("utf-8", "replace")
    except FileNotFoundError:
        return ""
    except OSError as error:
        raise DataError(f"{path}: cannot be read ({error.strerror})") from error
