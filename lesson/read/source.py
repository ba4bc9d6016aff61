"""From a file to its text: sizes, encodings, and what is no text at all."""

from __future__ import annotations

import codecs
from pathlib import Path

from lesson.errors import ReadError
from lesson.read.draft import Flaws
from lesson.settings import MAX_CONTROL_SHARE, MAX_FILE_BYTES

# HTML and common editors treat these as text; every other code below 32 is a control character.
_TEXT_CONTROLS = b"\t\n\x0b\x0c\r\x1b"
_CONTROLS = bytes(code for code in range(32) if code not in _TEXT_CONTROLS)

_MARKED = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def load(path: Path) -> bytes:
    """The bytes of the file. Raises ReadError, its line beginning with the path, when they cannot be had."""
    try:
        with path.open("rb") as file:
            data = file.read(MAX_FILE_BYTES + 1)
    except FileNotFoundError:
        raise ReadError(f"{path}: no such file; check the name") from None
    except IsADirectoryError:
        raise ReadError(f"{path}: is a folder; name the transcript in it") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise ReadError(f"{path}: cannot be read ({reason})") from None
    return data


def decode(data: bytes, flaws: Flaws) -> str:
    """The text of a file, without byte-order mark and with LF line ends.

    UTF-8 and, with a byte-order mark, UTF-16 or UTF-32; a byte that is no UTF-8 is read as Windows-1252 and noted.
    A NUL in a file that begins as WebVTT becomes U+FFFD (W3C WebVTT, 6.1 "WebVTT file parsing"). Raises ReadError
    when the file is too large, empty or not text.
    """
    if len(data) > MAX_FILE_BYTES:
        raise ReadError(f"larger than {MAX_FILE_BYTES // 2**20} MB; split the transcript into one file per session")
    if not data.strip():
        raise ReadError("the file is empty; give a transcript of the talk")
    encoding = next((encoding for mark, encoding in _MARKED if data.startswith(mark)), None)
    text = _utf8(data, flaws) if encoding is None else _marked(data, encoding)
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        flaws.add("a NUL character stands in the text; replaced by U+FFFD")
        text = text.replace("\0", "\ufffd")
    return text


def _marked(data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        raise ReadError(
            f"the {encoding.upper()} text is broken or cut off at byte {error.start}; save it as UTF-8"
        ) from None


def _utf8(data: bytes, flaws: Flaws) -> str:
    _refuse_binary(data)

    def as_windows_1252(error: UnicodeError) -> tuple[str, int]:
        assert isinstance(error, UnicodeDecodeError)
        byte = data[error.start : error.start + 1]
        flaws.add("a byte is not UTF-8; read as Windows-1252", f"byte {error.start}")
        # Windows-1252 leaves five codes open; the WHATWG encoding standard maps them to the C1 controls.
        return (byte.decode("cp1252", "ignore") or byte.decode("latin-1")), error.start + 1

    codecs.register_error("lesson.windows-1252", as_windows_1252)
    return data.decode("utf-8", "lesson.windows-1252")


def _refuse_binary(data: bytes) -> None:
    if data.removeprefix(codecs.BOM_UTF8).startswith(b"WEBVTT"):
        return
    controls = len(data) - len(data.translate(None, _CONTROLS))
    nul = data.find(0)
    if nul < 0 and controls <= MAX_CONTROL_SHARE * len(data):
        return
    # Latin letters in UTF-16 have a NUL as every second byte.
    if 0 in (data[0:200:2].count(0), data[1:200:2].count(0)) and data[:200].count(0) * 3 > len(data[:200]):
        raise ReadError("looks like UTF-16 without a byte-order mark; save it as UTF-8")
    raise ReadError("not a text file; give the transcript, not the recording or an archive")
