"""The file `<stem>.corrections.json`: small, read and compared line by line, also written by hand."""

from __future__ import annotations

import json
from pathlib import Path

from pydantic import ValidationError

from lesson.corrections.record import Corrections
from lesson.errors import DataError
from lesson.settings import MAX_CORRECTIONS_BYTES


def corrections_path(talk_path: Path) -> Path:
    """Where the corrections of the talk file `talk_path` lie: beside it, under its stem."""
    return talk_path.with_name(f"{talk_path.stem}.corrections.json")


def read_corrections(path: Path) -> Corrections:
    """The corrections in the file `path`; none where there is no such file.

    Raises DataError, in one line, where the file is no file of corrections.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_CORRECTIONS_BYTES + 1)
    except FileNotFoundError:
        return Corrections()
    except OSError as error:
        raise DataError(f"{path}: cannot be read ({error.strerror}); corrections are expected there") from error
    if len(raw) > MAX_CORRECTIONS_BYTES:
        raise DataError(f"{path}: over {MAX_CORRECTIONS_BYTES >> 20} MB; that is no file of corrections")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DataError(f"{path}: byte {error.start} is not UTF-8; save the file as UTF-8") from None
    return parse_corrections(text, str(path))


def parse_corrections(text: str, where: str = "corrections") -> Corrections:
    """The corrections in `text` (JSON). Raises DataError naming `where`, the place in it and what is wrong there."""
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise DataError(f"{where}: line {error.lineno} column {error.colno}: no JSON ({error.msg})") from None
    except RecursionError:
        raise DataError(f"{where}: nested too deeply for a file of corrections") from None
    try:
        return Corrections.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        at = ".".join(str(part) for part in first["loc"])
        message = first["msg"].removeprefix("Value error, ")
        more = f" (and {error.error_count() - 1} more)" if error.error_count() > 1 else ""
        raise DataError(
            f"{where}: {at or 'file'}: {message}{more}; 'lesson schema --of corrections' describes it"
        ) from None


def corrections_text(corrections: Corrections) -> str:
    """The file's text: JSON with one correction a line and only the fields that say something, to be read and compared
    line by line. Same corrections, same text."""
    lines = [
        json.dumps(c.model_dump(mode="json", exclude_defaults=True), ensure_ascii=False)
        for c in corrections.corrections
    ]
    body = "[\n" + ",\n".join(lines) + "\n]" if lines else "[]"
    return f'{{"version": {corrections.version}, "corrections": {body}}}\n'


def corrections_schema_text() -> str:
    """The JSON Schema (2020-12) of the file of corrections."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | Corrections.model_json_schema()
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
