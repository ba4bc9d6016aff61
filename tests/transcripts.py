"""Transcripts for tests: words with times, and the file each format makes of them.

A talk is a list of `(word, start_ms, end_ms)` in order, without overlap. Each `as_...` builder returns the text of a
file; `BUILDERS` lists them by the format's name on the command line.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence

from hypothesis import strategies as st

Timed = tuple[str, int, int]

CHESS = [
    "e4",
    "e5",
    "knight",
    "f3",
    "c6,",
    "takes",
    "takes",
    "queen",
    "d-four",
    "castles",
    "4",
    "8",
    "and",
    "so",
    "White's",
    "better.",
    "Ruy",
    "López",
    "e.p.",
    "O-O",
]

# Whitespace splits words, controls are no text, halves of surrogate pairs cannot be written.
_CHARACTERS = st.characters(blacklist_categories=("Cs", "Cc", "Zs", "Zl", "Zp"))
_TAME = st.characters(blacklist_categories=("Cs", "Cc", "Zs", "Zl", "Zp"), blacklist_characters="<>{}[]\ufeff")


def tame_words() -> st.SearchStrategy[str]:
    """Words without the brackets that are markup in one format or another; bare numbers are frequent."""
    return st.one_of(st.sampled_from(CHESS), st.from_regex(r"[0-9]{1,2}", fullmatch=True), st.text(_TAME, min_size=1))


def wild_words() -> st.SearchStrategy[str]:
    """Words of any characters that may stand in a word."""
    return st.one_of(
        st.sampled_from(["<v", "-->", "&amp;", "[0:00]", '"', "\\", "}"]), st.text(_CHARACTERS, min_size=1)
    )


@st.composite
def talks(draw: st.DrawFn, words: st.SearchStrategy[str] | None = None, step_ms: int = 10) -> list[Timed]:
    """Talks of one to forty words; all times are multiples of `step_ms`, pauses and lengths up to 200 steps."""
    said = draw(st.lists(tame_words() if words is None else words, min_size=1, max_size=40))
    steps = st.integers(0, 200)
    talk: list[Timed] = []
    now = 0
    for word in said:
        start = now + draw(steps) * step_ms
        now = start + draw(steps) * step_ms
        talk.append((word, start, now))
    return talk


def said(talk: Sequence[Timed]) -> list[str]:
    """The words alone."""
    return [word for word, _, _ in talk]


def clock(ms: int, mark: str = ".") -> str:
    """`hh:mm:ss.mmm`, with `mark` before the milliseconds."""
    seconds, fraction = divmod(ms, 1000)
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}{mark}{fraction:03}"


def groups(talk: Sequence[Timed], size: int) -> Iterator[Sequence[Timed]]:
    """The talk in blocks of `size` words."""
    for first in range(0, len(talk), size):
        yield talk[first : first + size]


def vtt_escaped(text: str) -> str:
    """`text` with the three characters that are markup in WebVTT as character references."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def as_vtt(talk: Sequence[Timed], size: int = 7, inline: bool = False) -> str:
    """WebVTT with `size` words a cue; `inline` puts each word's own start before it."""
    cues = ["WEBVTT\n"]
    for cue in groups(talk, size):
        words = [f"<{clock(start)}>{vtt_escaped(w)}" if inline else vtt_escaped(w) for w, start, _ in cue]
        cues.append(f"{clock(cue[0][1])} --> {clock(cue[-1][2])}\n{' '.join(words)}\n")
    return "\n".join(cues)


def as_srt(talk: Sequence[Timed], size: int = 7) -> str:
    """SubRip with `size` words a cue."""
    return "\n".join(
        f"{number}\n{clock(cue[0][1], ',')} --> {clock(cue[-1][2], ',')}\n{' '.join(said(cue))}\n"
        for number, cue in enumerate(groups(talk, size), 1)
    )


def as_stamps(talk: Sequence[Timed], size: int = 30) -> str:
    """Paragraphs that begin with `[m:ss]`, from one hour on `[h:mm:ss]`; fractions of a second are lost."""
    paragraphs = []
    for block in groups(talk, size):
        seconds = block[0][1] // 1000
        hours, minutes = divmod(seconds // 60, 60)
        stamp = f"{hours}:{minutes:02}:{seconds % 60:02}" if hours else f"{minutes}:{seconds % 60:02}"
        paragraphs.append(f"[{stamp}] {' '.join(said(block))}\n")
    return "\n".join(paragraphs)


def as_json(
    talk: Sequence[Timed],
    size: int = 30,
    words: bool = True,
    bare: bool = False,
    text_key: str = "word",
    chance_key: str = "probability",
) -> str:
    """Recogniser JSON with `size` words a segment, each with a leading space; `words=False` leaves only segments."""
    segments = []
    for block in groups(talk, size):
        segment: dict[str, object] = {
            "start": block[0][1] / 1000,
            "end": block[-1][2] / 1000,
            "text": " " + " ".join(said(block)),
        }
        if words:
            segment["words"] = [
                {text_key: f" {word}", "start": start / 1000, "end": end / 1000, chance_key: 0.75}
                for word, start, end in block
            ]
        segments.append(segment)
    return json.dumps(segments if bare else {"language": "en", "segments": segments})


def as_word_list(talk: Sequence[Timed]) -> str:
    """Recogniser JSON without segments."""
    words = [{"word": word, "start": start / 1000, "end": end / 1000, "conf": 0.5} for word, start, end in talk]
    return json.dumps({"result": words})


def as_ctm(talk: Sequence[Timed]) -> str:
    """CTM of one channel with a confidence for each word."""
    return "".join(
        f"lesson A {start / 1000:.3f} {(end - start) / 1000:.3f} {word} 0.900\n" for word, start, end in talk
    )


def as_text(talk: Sequence[Timed], size: int = 30) -> str:
    """Paragraphs without times."""
    return "\n\n".join(" ".join(said(block)) for block in groups(talk, size)) + "\n"


BUILDERS: dict[str, Callable[[Sequence[Timed]], str]] = {
    "vtt": as_vtt,
    "srt": as_srt,
    "stamps": as_stamps,
    "json": as_json,
    "ctm": as_ctm,
    "text": as_text,
}
