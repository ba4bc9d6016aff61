"""What `lesson check` writes: one line per fault, or the same as data."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from typing import Any

from lesson.check.sarif import sarif
from lesson.check.script import Finding

Report = Callable[[Sequence[Finding]], str]


def text(findings: Sequence[Finding]) -> str:
    """A line per fault, as compilers write them: path, line, column, kind, message, and the position as FEN."""
    lines = []
    for finding in findings:
        fault, spot = finding.fault, finding.spot
        position = f" [{fault.fen}]" if fault.fen else ""
        lines.append(one_line(f"{finding.path}:{spot.line}:{spot.column}: {fault.kind}: {fault.message}{position}"))
    return "".join(line + "\n" for line in lines)


def as_json(findings: Sequence[Finding]) -> str:
    """A list with an object per fault; lines and columns count from 1, `end_column` is one past the last character."""
    return json.dumps([_record(finding) for finding in findings], ensure_ascii=False, indent=2) + "\n"


def _record(finding: Finding) -> dict[str, Any]:
    fault = finding.fault
    return {
        "path": finding.path,
        "line": finding.spot.line,
        "column": finding.spot.column,
        "end_line": finding.end.line,
        "end_column": finding.end.column + finding.end.length,
        "kind": fault.kind,
        "severity": fault.severity,
        "message": fault.message,
        "why": fault.why or None,
        "fen": fault.fen or None,
        "nearest": list(fault.nearest),
    }


def one_line(line: str) -> str:
    """`line` without line breaks and without characters that would steer a terminal."""
    return "".join(c if c.isprintable() else " " for c in " ".join(line.split(" ")))


REPORTS: dict[str, Report] = {"text": text, "json": as_json, "sarif": sarif}
"""Name of a format -> what writes it."""
