"""What every reading must end in."""

from __future__ import annotations

from lesson.errors import ReadError
from lesson.read import read_text


def assert_read_or_refused(data: bytes, format: str | None) -> None:
    """A talk with words, or a ReadError of one line; no other exception passes."""
    refusal = None
    try:
        talk = read_text(data, "talk.txt", format)
    except ReadError as error:
        refusal = str(error)
    if refusal is None:
        assert talk.words
    else:
        assert refusal.startswith("talk.txt: ")
        assert "\n" not in refusal
