"""The open questions asked one by one in a terminal, without hurry and without a page."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path

from lesson.corrections import Corrections, corrections_path
from lesson.errors import LessonError, UsageError
from lesson.model import Talk
from lesson.pipeline import Rereader
from lesson.read import read_talk
from lesson.read.prepared import read_prepared
from lesson.review.answers import Answer
from lesson.review.questions import Card, card, ranked
from lesson.review.session import Remade, Session
from lesson.review.shown import Shown
from lesson.review.typed import read_return
from lesson.write.pgn import clock
from lesson.write.unresolved import diagram

Ask = Callable[[str], str]
Say = Callable[[str], None]

PATIENCE_S = 3600.0
"""Seconds to wait for the talk to be read again after an answer. Only a fault of the program takes so long."""

HELP = """\
  3                      the third of the readings shown
  Nf3, knight f3         this move (SAN, UCI or words)
  Nf3 after 7. cxd5      this move, played from the position after 7. cxd5
  y                      as it stands
  0, no                  not a move
  mention Nf3            a move that is only spoken of
  back to 7. cxd5        the words go back there (also: back to move 7, back to start)
  position FEN           a new chapter starts from this position (position start: the usual one)
  near dwarf = Najdorf   words misheard everywhere
  title Quiet lines      the name of this chapter
  side we White          who is meant by "we"
  at 2:19 queen h5       other words, by when they were said (the words may be left out)
  doubts                 what the board contradicts, and the notes on your analysis
  later                  the next question; this one comes back at the end
  undo, redo             the last answer
  quit                   everything answered is saved"""

_GREETING = 'Answer with a number, a move, "no", "back to 7. cxd5"; help shows the rest.'
_ALL_SETTLED = "Nothing is open. To change something, name the words: at 2:19 queen h5. Else: quit."
_AFTER = re.compile(r"(.+?)\s+(?:after|from)\s+(.+)", re.IGNORECASE)
_AT = re.compile(r"at\s+(?:(\d+):)?(\d+):(\d\d)(?:\s+(.+))?", re.IGNORECASE)


class Dialogue:
    """The review of one talk. `ask` shows a prompt and returns a line typed, `say` shows lines; `prepared` is the
    teacher's own analysis, a PGN file."""

    def __init__(self, talk_path: Path, format: str | None, ask: Ask, say: Say, prepared: Path | None = None) -> None:
        self.ask, self.say = ask, say
        self.later: set[tuple[int, int]] = set()
        self.told = ""
        self.chosen: tuple[int, int] | None = None
        own = read_prepared(prepared) if prepared is not None else None
        self.options = f" --prepared {prepared}" if prepared is not None else ""
        self.session = Session(talk_path, read_talk(talk_path, format), partial(_remade, rereader=Rereader(own)))
        self.saved = corrections_path(talk_path)

    def run(self) -> None:
        """Ask until nothing is open or the teacher quits. Raises LessonError where an answer cannot be saved."""
        for flaw in self.session.shown.lesson.findings:
            if flaw.kind == "file" and "correction" in flaw.message:
                self.say(f"Note: {flaw.message}")
        self.say(f"{self._left()}. Every answer is saved at once in {self.saved}.")
        self.say(_GREETING)
        self._tell()
        more = True
        while more:
            here = self._next()
            self.say(self._asked(here) if here else f"\n{_ALL_SETTLED}")
            more = self._answered(here)
        left = self._left()
        self.say(f"{left}. To write the study: lesson convert {self.session.talk_path}{self.options}")

    # ---------------------------------------------------------------------------------------------------- the questions

    @property
    def shown(self) -> Shown:
        return self.session.shown

    def _left(self) -> str:
        count = len(ranked(self.shown))
        return "No questions left" if not count else f"{count} question{'s' if count > 1 else ''} left"

    def _tell(self, again: bool = False) -> None:
        """Say what the board contradicts and what the talk left out of the analysis, where that is new or asked for."""
        rows = []
        for title, found in (
            ("The board says otherwise", self.shown.doubts),
            ("Beside your analysis", [note for note, _ in self.shown.notes]),
        ):
            times = ["" if f.start_ms is None else f"{clock(f.start_ms)}  " for f in found]
            rows += (
                [f"{title}:", *(f"  {when}{f.message}" for when, f in zip(times, found, strict=True))] if found else []
            )
        now = "\n".join(rows)
        if again or now != self.told:
            self.say(now or "The board contradicts nothing.")
        self.told = now

    def _next(self) -> Card | None:
        """The words chosen, else the most valuable question, those put off last."""
        if self.chosen is not None:
            return card(self.shown, *self.chosen)
        words = [question.words for question in ranked(self.shown)]
        if words and self.later.issuperset(words):
            self.later.clear()
        first = next((span for span in words if span not in self.later), None)
        return None if first is None else card(self.shown, *first)

    def _asked(self, here: Card) -> str:
        """The words, their place in the tree and what they may mean."""
        when = "" if here.start_ms is None else f", at {clock(here.start_ms)}"
        line = " ".join(spot.number if spot.fen.split()[1] == "b" or not i else spot.number.split()[-1]
                        for i, spot in enumerate(here.line))  # fmt: skip
        rows = ["", f"{'Question' if here.question else 'Words chosen'}{when} ({self._left()})"]
        said = f"[{here.text}]" if here.text else "[nothing]"
        rows.append(f"  Said    {' '.join(filter(None, (here.lead, said, here.tail)))}")
        rows.append(f"  So far  {line or '(start of the chapter)'}")
        rows += [f"          {row}".rstrip() for row in diagram(here.before.fen).splitlines()]
        if here.reason:
            rows.append(f"  Why     {here.reason}")
        if here.stands:
            rows.append(f"  Stands  {here.stands}")
        for offer in here.offers:
            share = "" if offer.chance is None else f"{offer.chance:.0%}"
            rows.append(f"    {offer.key}  {offer.says:<8}{share:>4}".rstrip())
        if self._standing(here) and not any(offer.means == "return" for offer in here.offers):
            rows.append("    y  as it stands")
        if here.first < here.last:
            rows.append("    0  not a move")
        return "\n".join(rows)

    # ------------------------------------------------------------------------------------------------------ the answers

    def _answered(self, here: Card | None) -> bool:
        """Ask about the words until something has been done; False when the teacher quits."""
        while True:
            text = " ".join(self.ask("> ").split())
            try:
                match text.lower():
                    case "":
                        continue
                    case "help" | "?":
                        self.say(HELP)
                        continue
                    case "doubts":
                        self._tell(again=True)
                        continue
                    case "quit" | "q" | "exit":
                        return False
                    case "later" | "skip":
                        self.later |= {(here.first, here.last)} if here and not self.chosen else set()
                        self.chosen = None
                        return True
                    case "undo":
                        self.session.undo(self.session.version)
                        self._settle("Taken back.")
                        return True
                    case "redo":
                        self.session.redo(self.session.version)
                        self._settle("Done again.")
                        return True
                if match := _AT.fullmatch(text):
                    self.chosen = self._words_at(match)
                    return True
                self.session.answer(self._read(text, here))
            except UsageError as error:
                self.say(f"  {error}")
                continue
            except LessonError as error:
                self.say(f"  {error}")
                self._settle("")
                return True
            self.chosen = None
            self._settle("Saved.")
            return True

    def _settle(self, done: str) -> None:
        """Wait for the talk to be read again and tell what that changed."""
        self.session.settle(PATIENCE_S)
        changed = self.session.trouble or self.session.changes.text
        self.say(" ".join(filter(None, ("\n" + done, changed))))
        self._tell()

    def _read(self, text: str, here: Card | None) -> Answer:
        """The answer that the line means. Raises UsageError."""
        first, _, rest = text.partition(" ")
        if here is None:
            if " = " not in text and first.lower() not in ("title", "side"):
                raise UsageError("choose the words first, by when they were said: at 2:19 queen h5")
            here = card(self.shown, 0, 0)
        offers = {offer.key: offer for offer in here.offers}
        if text in offers:
            return self._answer(here, offers[text].means, offers[text].uci, at=offers[text].spot)
        if text.isdecimal() and text != "0":
            raise UsageError(f"there is no reading {text}; {len(offers)} are shown")
        if " = " in text:
            heard, _, meant = text.partition(" = ")
            return self._answer(here, "word", meant, words=self._find(heard, None))
        match first.lower():
            case "y" | "yes" if not rest:
                standing = self._standing(here)
                if standing is None:
                    raise UsageError("nothing stands here that could be right; name the move, or answer no")
                return self._answer(here, *standing)
            case "mention":
                return self._answer(here, "mention", rest)
            case "position":
                return self._answer(here, "chapter", rest)
            case "title":
                return self._answer(here, "title", rest)
            case "side":
                person, _, colour = rest.rpartition(" ")
                side = {"white": "w", "black": "b"}.get(colour.lower(), "")
                return self._answer(here, "side", side, person=person)
        if match := _AFTER.fullmatch(text):
            spot = read_return(match[2], self.shown, here.before.id, here.first)
            return self._answer(here, "move", match[1], at=spot.id)
        return self._answer(here, "typed", "" if text == "0" else text)

    def _standing(self, here: Card) -> tuple[str, str, str] | None:
        """(means, value, at) of the answer that the words are read right, None where there is nothing to confirm."""
        question = self.shown.questions.get(here.question)
        if question is None:
            return None
        place = self.shown.lesson.words[here.first].place.kind if here.first < here.last else "navigation"
        if question.move is None and place == "navigation":
            return "return", "", here.before.id
        move = self.shown.spots[question.move].move if question.move else None
        return ("move", move.uci, "") if move else None

    def _answer(
        self,
        here: Card,
        means: str,
        value: str,
        at: str = "",
        person: str = "",
        words: tuple[int, int] | None = None,
    ) -> Answer:
        return Answer.model_validate(
            {
                "version": self.session.version,
                "shown": self.session.serial,
                "words": words or (here.first, here.last),
                "means": means,
                "value": value,
                "at": at,
                "person": person,
            }
        )

    # -------------------------------------------------------------------------------------------------------- the words

    def _words_at(self, match: re.Match[str]) -> tuple[int, int]:
        """The words said at a time: the stretch there, or the given words nearest to it."""
        at_ms = ((int(match[1] or 0) * 60 + int(match[2])) * 60 + int(match[3])) * 1000
        if match[4]:
            return self._whole(*self._find(match[4], at_ms))
        timed = [s for s in self.shown.stretches if s.start_ms is not None]
        meant = [s for s in timed if not s.plain] or timed
        if not meant:
            raise UsageError("this talk has no times; name the words: at 0:00 queen h5")
        nearest = min(meant, key=lambda s: abs((s.start_ms or 0) - at_ms))
        return nearest.first, nearest.last

    def _whole(self, first: int, last: int) -> tuple[int, int]:
        """The phrase that the words are part of, as far as they are understood as one."""
        holding = self.shown.stretch_at(first)
        if holding is not None and not holding.plain and last <= holding.last:
            return holding.first, holding.last
        return first, last

    def _find(self, text: str, at_ms: int | None) -> tuple[int, int]:
        """Where the words `text` stand, nearest to a time, or first; case and punctuation do not count."""
        wanted = [_plain(word) for word in text.split()]
        words = self.shown.lesson.words
        keys = [_plain(word.text) for word in words]
        found = [i for i in range(len(keys) - len(wanted) + 1) if keys[i : i + len(wanted)] == wanted]
        if not found:
            raise UsageError(f"“{text}” is not said in this talk")
        first = found[0] if at_ms is None else min(found, key=lambda i: abs((words[i].start_ms or 0) - at_ms))
        return first, first + len(wanted)


def _plain(word: str) -> str:
    return "".join(c for c in word.casefold() if c.isalnum())


def _remade(talk: Talk, corrections: Corrections, rereader: Rereader) -> Remade:
    lesson, applied = rereader.lesson(talk, corrections)
    return Remade(lesson, applied.places)
