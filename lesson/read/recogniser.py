"""JSON of speech recognisers: segments with or without words, or words alone, in the key names in common use.

Times are seconds. A segment's text is the authority for the characters, its word list for the times.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import cast

from lesson.errors import ReadError
from lesson.model import Word
from lesson.read.draft import Draft, Flaws, believable, quoted, tokens
from lesson.read.numbers import milliseconds, number
from lesson.read.pieces import timed_tokens
from lesson.settings import MAX_SECONDS_PER_WORD

Json = dict[str, object]

SEGMENT_LISTS = ("segments", "chunks", "results", "utterances")
WORD_LISTS = ("words", "result")
WORD_TEXT = ("word", "text")
PROBABILITY = ("probability", "confidence", "conf")
STARTS = ("start", "start_time")
ENDS = ("end", "end_time")

_OPENING = re.compile(r'\s*(?:\{\s*["}]|\[\s*[\[\]{"])')


@dataclass(frozen=True, slots=True)
class _Segment:
    """A segment as the file gives it; `words` are its timed pieces, spaces and all."""

    text: str | None
    words: list[Word]
    start_ms: int | None = None
    end_ms: int | None = None
    voice: str | None = None


def looks_like(text: str) -> bool:
    """The text opens as a JSON object or list does."""
    return _OPENING.match(text) is not None


def read(text: str) -> Draft:
    """The words of one JSON value, or of several one after the other (JSON lines)."""
    draft = Draft()
    segments = [segment for value in _values(text) for segment in _segments(value, draft.flaws)]
    if _counts_milliseconds(segments):
        draft.flaws.add("times are whole numbers and too large for seconds; read as milliseconds")
        segments = [_thousandth(segment) for segment in segments]
    said = [timed_tokens(segment.text, segment.words, draft.flaws) for segment in segments]
    words = believable([word for part in said for word in part], draft.flaws)
    first = 0
    for segment, part in zip(segments, said, strict=True):
        draft.add(words[first : first + len(part)], segment.start_ms, segment.end_ms, segment.voice)
        first += len(part)
    return draft


def _values(text: str) -> Iterator[object]:
    decoder = json.JSONDecoder()
    at, end = 0, len(text.rstrip())
    try:
        while at < end:
            while text[at].isspace():
                at += 1
            value, at = decoder.raw_decode(text, at)
            yield value
    except json.JSONDecodeError as error:
        raise ReadError(
            f"broken or cut-off JSON at line {error.lineno}, column {error.colno} ({error.msg}); save it again"
        ) from None
    except RecursionError:
        raise ReadError("the JSON is nested too deeply for a transcript") from None
    except ValueError:
        raise ReadError("the JSON holds a number of thousands of digits; it is no transcript") from None


def _segments(value: object, flaws: Flaws) -> list[_Segment]:
    if isinstance(value, list):
        return _from_list(value, flaws)
    if not isinstance(value, dict):
        raise ReadError(f"the JSON holds {quoted(json.dumps(value))}; an object or a list of segments is needed")
    whole = cast(Json, value)
    key = next((key for key in SEGMENT_LISTS if isinstance(whole.get(key), list) and whole[key]), None)
    if key is None:
        if _word_list(whole) is None and not isinstance(whole.get("text"), str):
            if any(isinstance(whole.get(key), list) for key in SEGMENT_LISTS):
                return []
            keys = quoted(", ".join(whole))
            raise ReadError(f'no "segments", "words" or "text" in the JSON object, only {keys}')
        return list(_one(whole, flaws))
    parts = cast("list[object]", whole[key])
    segments = _each(parts, flaws) if key == "segments" else _from_list(parts, flaws)
    loose = _word_list(whole)
    if loose and not any(segment.words for segment in segments):
        return _with_words(segments, list(_pieces(loose, flaws)), flaws)
    return segments


def _from_list(items: list[object], flaws: Flaws) -> list[_Segment]:
    if _are_words(items):
        return [_Segment(None, list(_pieces(items, flaws)))]
    return _each(items, flaws)


def _each(items: list[object], flaws: Flaws) -> list[_Segment]:
    return [segment for item in items for segment in _one(item, flaws)]


def _are_words(items: list[object]) -> bool:
    """A list of words rather than of segments: entries say "word", or none of several holds more than one word."""
    entries = [cast(Json, item) for item in items if isinstance(item, dict)]
    if any("word" in entry for entry in entries):
        return True
    texts = [text for entry in entries if isinstance(text := entry.get("text"), str)]
    return len(texts) > 1 and not any(_word_list(e) for e in entries) and all(len(t.split()) < 2 for t in texts)


def _one(item: object, flaws: Flaws) -> Iterator[_Segment]:
    entry: Json = cast(Json, item) if isinstance(item, dict) else {"text": item}
    text, words = entry.get("text"), _word_list(entry)
    if "word" in entry and words is None:
        words = [entry]
    if not isinstance(text, str) and words is None:
        flaws.add("an entry has neither text nor words; passed over", quoted(json.dumps(item)))
        return
    start, end = _span(entry)
    speaker = entry.get("speaker")
    yield _Segment(
        text if isinstance(text, str) else None,
        list(_pieces(words or [], flaws)),
        start,
        end,
        speaker if isinstance(speaker, str) and speaker else None,
    )


def _pieces(items: list[object], flaws: Flaws) -> Iterator[Word]:
    for item in items:
        entry: Json = cast(Json, item) if isinstance(item, dict) else {"word": item}
        text = next((value for key in WORD_TEXT if isinstance(value := entry.get(key), str | int | float)), None)
        if text is None or isinstance(text, bool):
            flaws.add("a word entry has no text; passed over", quoted(json.dumps(item)))
            continue
        chance = next((found for key in PROBABILITY if (found := number(entry.get(key))) is not None), None)
        yield Word(str(text), *_span(entry), chance)


def _span(entry: Json) -> tuple[int | None, int | None]:
    pair = entry.get("timestamp")
    if isinstance(pair, list) and len(pair) == 2:
        return milliseconds(pair[0]), milliseconds(pair[1])
    return _first_time(entry, STARTS), _first_time(entry, ENDS)


def _first_time(entry: Json, keys: tuple[str, ...]) -> int | None:
    return next((time for key in keys if (time := milliseconds(entry.get(key))) is not None), None)


def _word_list(entry: Json) -> list[object] | None:
    return next((cast("list[object]", value) for key in WORD_LISTS if isinstance(value := entry.get(key), list)), None)


def _with_words(segments: list[_Segment], words: list[Word], flaws: Flaws) -> list[_Segment]:
    """Segments whose words stand in one list beside them: the text is matched as a whole, then cut up again."""
    texts = [segment.text or "" for segment in segments]
    said = timed_tokens("\n".join(texts), words, flaws)
    counts = [_count(text) for text in texts]
    if sum(counts) != len(said):
        flaws.add("the word list beside the segments holds more than their texts; the segments' borders were given up")
        return [_Segment(None, [replace(word, text=f" {word.text}") for word in said])]
    cut: list[_Segment] = []
    first = 0
    for segment, count in zip(segments, counts, strict=True):
        cut.append(replace(segment, words=said[first : first + count]))
        first += count
    return cut


def _counts_milliseconds(segments: list[_Segment]) -> bool:
    lasting = words = 0
    for segment in segments:
        timed = [(word.start_ms, word.end_ms, 1) for word in segment.words]
        for start, end, count in timed or [(segment.start_ms, segment.end_ms, _count(segment.text))]:
            if (start or 0) % 1000 or (end or 0) % 1000:
                return False
            if start is not None and end is not None:
                lasting, words = lasting + end - start, words + count
    return lasting > MAX_SECONDS_PER_WORD * 1000 * max(words, 1)


def _count(text: str | None) -> int:
    return len(tokens(text)) if text else 0


def _thousandth(segment: _Segment) -> _Segment:
    def less(time: int | None) -> int | None:
        return None if time is None else time // 1000

    words = [replace(word, start_ms=less(word.start_ms), end_ms=less(word.end_ms)) for word in segment.words]
    return replace(segment, words=words, start_ms=less(segment.start_ms), end_ms=less(segment.end_ms))
