"""WebVTT, read as the W3C's parser reads it ("WebVTT: The Web Video Text Tracks Format", section 6, Parsing).

The parser is more lax than the grammar for writers. What it would drop is dropped here too, but never in silence.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from lesson.errors import ReadError
from lesson.read.draft import Draft, Flaws, quoted
from lesson.read.vtt_text import TIMESTAMP, add_cue, milliseconds

_SIGNATURE = re.compile(r"WEBVTT(?:[ \t\n]|\Z)")
_SPACE = r"[ \t\n\f\r]*"
_TIMING = re.compile(_SPACE + TIMESTAMP + _SPACE + "-->" + _SPACE + TIMESTAMP)
_STYLE_OR_REGION = re.compile(r"(?:STYLE|REGION)[ \t\n\f\r]*")
_NOTE = re.compile(r"NOTE(?:[ \t]|\Z)")


def looks_like(text: str) -> bool:
    """The file begins with the signature of "WebVTT file parsing"."""
    return _SIGNATURE.match(text) is not None


def read(text: str) -> Draft:
    """The words of the cues. Raises ReadError without the signature."""
    if not looks_like(text):
        raise ReadError(f"the first line is {quoted(text.split(chr(10), 1)[0])}; WebVTT begins with the line WEBVTT")
    draft = Draft()
    for cue in cues(text, draft.flaws):
        add_cue(draft, cue.text, cue.start_ms, cue.end_ms, f"line {cue.line}")
    return draft


@dataclass(frozen=True, slots=True)
class VttCue:
    """A cue as "WebVTT file parsing" collects it; `line` is that of its timing, counted from 1."""

    start_ms: int
    end_ms: int
    text: str
    id: str
    line: int


def cues(text: str, flaws: Flaws) -> Iterator[VttCue]:
    """The block loop of "WebVTT file parsing". `text` begins with the signature and has LF line ends."""
    lines = text.split("\n")
    at = _after_header(lines)
    seen_cue = False
    while at < len(lines):
        if not lines[at]:
            at += 1
            continue
        cue, following = _collect_block(lines, at, seen_cue, flaws)
        if cue is not None:
            seen_cue = True
            yield cue
        at = following


def _after_header(lines: list[str]) -> int:
    at = 1
    while at < len(lines) and lines[at] and "-->" not in lines[at]:
        at += 1
    return at


def _collect_block(lines: list[str], at: int, seen_cue: bool, flaws: Flaws) -> tuple[VttCue | None, int]:
    """ "Collect a WebVTT block": the cue that starts at line index `at`, if it is one, and where to go on."""
    identifier, timing_at = ("", at) if "-->" in lines[at] else (lines[at], at + 1)
    timed = timing_at < len(lines) and "-->" in lines[timing_at]
    end = timing_at + 1 if timed else timing_at
    while end < len(lines) and lines[end] and "-->" not in lines[end]:
        end += 1
    span = _timing(lines[timing_at]) if timed else None
    if span is not None:
        return VttCue(*span, "\n".join(lines[timing_at + 1 : end]), identifier, timing_at + 1), end
    header = not seen_cue and _STYLE_OR_REGION.fullmatch(lines[at])
    if timed or not (header or _NOTE.match(lines[at])):
        said = " ".join(line for line in lines[at:end] if "-->" not in line) or lines[at]
        flaws.add(
            "a block has no valid timing line; the standard drops it, its words are missing",
            f"line {at + 1}, {quoted(said)}",
        )
    return None, end


def _timing(line: str) -> tuple[int, int] | None:
    """ "Collect WebVTT cue timings and settings"; settings say nothing about words and are skipped."""
    match = _TIMING.match(line)
    if match is None:
        return None
    start, end = milliseconds(*match.groups()[:4]), milliseconds(*match.groups()[4:])
    return None if start is None or end is None else (start, end)
