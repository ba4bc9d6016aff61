"""The file of corrections: read back as written, one line a correction, broken ones refused in one line."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lesson.corrections import (
    Correction,
    Corrections,
    corrections_path,
    corrections_schema_text,
    corrections_text,
    parse_corrections,
    read_corrections,
)
from lesson.errors import DataError

TEXT = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12).filter(lambda t: t.strip() != "")
MOVES = st.sampled_from(["e4", "Nf3", "O-O", "exd8=Q+", "e2e4", "e7e8q", "Rad1#"])
# Positions of our own; each can go on.
FENS = st.sampled_from(["4k3/8/8/8/8/8/4P3/4K3 w - - 0 1", "8/5k2/8/8/3R4/8/4K3/8 b - - 0 1"])


@st.composite
def corrections(draw: st.DrawFn) -> Corrections:
    made = []
    for number in range(draw(st.integers(0, 6))):
        kind = draw(st.sampled_from(["move", "mention", "talk", "return", "chapter", "word", "title", "side"]))
        first = draw(st.integers(0, 500))
        kinds: dict[str, dict[str, object]] = {
            "move": {"move": draw(MOVES)},
            "return": {"path": ("e2e4", "c7c6"), "chapter": draw(st.integers(0, 3))},
            "chapter": {"fen": draw(FENS)},
            "word": {"becomes": draw(TEXT)},
            "title": {"becomes": draw(TEXT), "chapter": draw(st.integers(0, 3))},
            "side": {"side": draw(st.sampled_from("wb")), "person": draw(TEXT)},
        }
        what = kinds.get(kind, {})
        if kind not in ("title", "side"):
            what |= {"text": draw(TEXT), "start_ms": draw(st.none() | st.integers(0, 10**7)), "before": draw(TEXT)}
            what["words"] = draw(st.none() | st.just((first, first + 2)))
        made.append({"id": f"c{number + 1}", "kind": kind, **what})
    return Corrections.model_validate({"corrections": made})


@given(corrections())
def test_what_is_written_is_read_back(made: Corrections) -> None:
    assert parse_corrections(corrections_text(made)) == made


@given(corrections())
def test_the_file_fits_the_published_schema_and_has_a_line_for_each(made: Corrections) -> None:
    """Checked by an independent validator of JSON Schema 2020-12."""
    text = corrections_text(made)
    validator = jsonschema.Draft202012Validator(json.loads(corrections_schema_text()))
    validator.validate(json.loads(text))
    assert text.count("\n") == (len(made.corrections) + 2 if made.corrections else 1)


def test_the_schema_is_one_and_refuses_strange_fields() -> None:
    schema = json.loads(corrections_schema_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    strange = {"version": 1, "corrections": [{"id": "c1", "kind": "talk", "text": "x", "colour": "red"}]}
    assert not jsonschema.Draft202012Validator(schema).is_valid(strange)


@given(corrections(), st.data())
def test_a_later_answer_about_the_same_takes_the_place_of_the_earlier(made: Corrections, data: st.DataObject) -> None:
    if not made.corrections:
        return
    old = data.draw(st.sampled_from(made.corrections))
    new = old.model_copy(update={"id": made.fresh_id()})
    after = made.plus(new)
    assert after.corrections[-1] == new
    assert old not in after.corrections
    assert len({c.id for c in after.corrections}) == len(after.corrections)
    assert after.without(new.id).corrections == after.corrections[:-1]


def test_several_moves_of_one_breath_are_kept_together() -> None:
    moves = [
        Correction(id=f"c{i}", kind="move", text="takes takes", move=san) for i, san in enumerate(["exd5", "cxd5"])
    ]
    assert Corrections().plus(*moves).corrections == tuple(moves)


def test_a_missing_file_is_no_corrections(tmp_path: Path) -> None:
    path = corrections_path(tmp_path / "evening.en.vtt")
    assert path == tmp_path / "evening.en.corrections.json"
    assert read_corrections(path) == Corrections()


BROKEN = {
    "": "line 1",
    "{": "line 1",
    "[]": "",
    '{"version": 2}': "version",
    '{"corrections": [{"kind": "talk", "text": "x"}]}': "corrections.0.id",
    '{"corrections": [{"id": "a", "kind": "shout", "text": "x"}]}': "corrections.0.kind",
    '{"corrections": [{"id": "a", "kind": "talk"}]}': "which words",
    '{"corrections": [{"id": "a", "kind": "move", "text": "x"}]}': "needs move",
    '{"corrections": [{"id": "a", "kind": "move", "text": "x", "move": "Zz9"}]}': "SAN or UCI",
    '{"corrections": [{"id": "a", "kind": "return", "text": "x", "path": ["e9e4"]}]}': "UCI",
    '{"corrections": [{"id": "a", "kind": "chapter", "text": "x", "fen": "8/8/8/8/8/8/8/8 w - - 0 1"}]}': "FEN",
    '{"corrections": [{"id": "a", "kind": "word", "text": "x", "becomes": " "}]}': "needs becomes",
    '{"corrections": [{"id": "a", "kind": "side", "side": "w"}]}': "needs person",
    '{"corrections": [{"id": "a", "kind": "talk", "text": "x", "words": [4, 2]}]}': "range",
    '{"corrections": [{"id": "a", "kind": "talk", "text": "x", "start_ms": -1}]}': "start_ms",
    '{"corrections": [{"id": "a", "kind": "talk", "text": "x"}, {"id": "a", "kind": "talk", "text": "y"}]}': "two",
    "[" * 100_000: "nested",
}


@pytest.mark.parametrize("text", BROKEN, ids=lambda text: text[:60])
def test_a_broken_file_is_refused_in_one_line_that_says_where(text: str, tmp_path: Path) -> None:
    path = tmp_path / "evening.corrections.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DataError) as caught:
        read_corrections(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    assert BROKEN[text] in message
    assert "\n" not in message


@given(st.binary(max_size=80) | corrections().map(lambda c: corrections_text(c).encode()[:-9]))
def test_no_bytes_raise_anything_else(raw: bytes) -> None:
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return
    with contextlib.suppress(DataError):
        parse_corrections(text)


def test_bytes_that_are_no_text_and_files_too_large_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "evening.corrections.json"
    path.write_bytes(b"\xff\xfe{}")
    with pytest.raises(DataError, match="UTF-8"):
        read_corrections(path)
    monkeypatch.setattr("lesson.corrections.file.MAX_CORRECTIONS_BYTES", 1 << 20)
    path.write_bytes(b" " * ((1 << 20) + 1))
    with pytest.raises(DataError, match="over 1 MB"):
        read_corrections(path)
    with pytest.raises(DataError, match="cannot be read"):
        read_corrections(tmp_path)
