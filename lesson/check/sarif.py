"""Faults in the Static Analysis Results Interchange Format, SARIF 2.1.0 (OASIS, 2020), for other programs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import PurePath
from typing import Any
from urllib.parse import quote

from lesson import __version__
from lesson.check.fault import KINDS
from lesson.check.script import Finding

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def sarif(findings: Sequence[Finding]) -> str:
    """One run with a rule per kind of fault (section 3.49) and a result per fault (3.27).

    Columns are counted in code points (3.14.17), and a region's end column is one past its last character (3.30.8).
    """
    rules = [
        {"id": kind, "shortDescription": {"text": meaning}, "defaultConfiguration": {"level": severity}}
        for kind, (severity, meaning) in KINDS.items()
    ]
    run = {
        "tool": {"driver": {"name": "lesson", "version": __version__, "rules": rules}},
        "columnKind": "unicodeCodePoints",
        "results": [_result(finding) for finding in findings],
    }
    log = {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}
    return json.dumps(log, ensure_ascii=False, indent=2) + "\n"


def _result(finding: Finding) -> dict[str, Any]:
    fault = finding.fault
    region = {
        "startLine": finding.spot.line,
        "startColumn": finding.spot.column,
        "endLine": finding.end.line,
        "endColumn": finding.end.column + finding.end.length,
    }
    place = {"artifactLocation": {"uri": _uri(finding.path)}, "region": region}
    properties = {"fen": fault.fen, "why": fault.why, "nearest": list(fault.nearest)}
    return {
        "ruleId": fault.kind,
        "ruleIndex": list(KINDS).index(fault.kind),
        "level": fault.severity,
        "message": {"text": fault.message},
        "locations": [{"physicalLocation": place}],
        "properties": {key: value for key, value in properties.items() if value},
    }


def _uri(path: str) -> str:
    """A relative reference of RFC 3986, or a file URI for an absolute path."""
    pure = PurePath(path)
    encoded = quote(pure.as_posix().encode("utf-8", "surrogateescape"))
    return f"file://{encoded}" if pure.is_absolute() else encoded
