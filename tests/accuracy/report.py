"""The study's results as one table of plain text: a row per talk and version, then the means per version."""

from __future__ import annotations

from collections.abc import Sequence

from tests.accuracy.score import calibration_error, mean, per_hundred
from tests.accuracy.study import Result

HEADINGS = (
    ("talk", 22),
    ("version", 9),
    ("F1", 5),
    ("rec", 5),
    ("prec", 5),
    ("spans", 6),
    ("silent", 7),
    ("first", 6),
    ("flags", 6),
    ("open", 6),
    ("ece", 5),
    ("sec", 6),
)

LEGEND = (
    "F1, rec, prec: by path. spans: share of marked stretches told right. Per 100 moves written: silent (wrong, not "
    "flagged), first (those whose parent is right), flags, open (phrases unresolved). ece: calibration error, in the "
    "means pooled. sec: decoding."
)


def table(results: Sequence[Result]) -> str:
    """The table: the first system in full, the F1 of the others beside it."""
    systems = list(dict.fromkeys(r.system for r in results))
    main, others = systems[0], systems[1:]
    lines = [_line([h for h, _ in HEADINGS], [f"{other[:12]} F1" for other in others])]
    for result in (r for r in results if r.system == main):
        beside = [
            _beside([r for r in results if (r.talk, r.version) == (result.talk, result.version)], o) for o in others
        ]
        lines.append(_line(_row([result], result.talk, result.version), beside))
    lines.append("")
    versions = dict.fromkeys(r.version for r in results)
    for version in versions:
        same = [r for r in results if r.version == version]
        beside = [_beside(same, other) for other in others]
        lines.append(_line(_row([r for r in same if r.system == main], "mean", version), beside))
    lines += [
        "",
        *(_acts([r for r in results if r.version == v and r.system == main], v) for v in versions),
        "",
        LEGEND,
    ]
    lines += [f"FAILED {r.talk} {r.version} {r.system}: {r.failure}" for r in results if r.failure]
    return "\n".join(lines)


def _row(results: Sequence[Result], talk: str, version: str) -> list[str]:
    def rate(field: str) -> str:
        return f"{mean([per_hundred(getattr(r.trust, field), r.trust.written) for r in results]):.1f}"

    trials = [trial for r in results for trial in r.trust.trials]
    return [
        talk,
        version,
        f"{mean([r.tree.f1 for r in results]):.3f}",
        f"{mean([r.tree.recall for r in results]):.3f}",
        f"{mean([r.tree.precision for r in results]):.3f}",
        f"{mean([r.spans() for r in results]):.3f}",
        *(rate(field) for field in ("silent", "silent_first", "flagged", "unresolved")),
        f"{calibration_error(trials):.3f}",
        f"{mean([r.seconds for r in results]):.2f}",
    ]


def _beside(results: Sequence[Result], system: str) -> str:
    return f"{mean([r.tree.f1 for r in results if r.system == system]):.3f}"


def _line(cells: Sequence[str], beside: Sequence[str]) -> str:
    left = [cell.ljust(width) for cell, (_, width) in zip(cells[:2], HEADINGS[:2], strict=True)]
    right = [cell.rjust(width) for cell, (_, width) in zip(cells[2:], HEADINGS[2:], strict=True)]
    return " ".join([*left, *right, *(cell.rjust(11) for cell in beside)]).rstrip()


def _acts(results: Sequence[Result], version: str) -> str:
    verdicts = [v for r in results for v in r.verdicts]
    parts = []
    for act in dict.fromkeys(v.span.act for v in verdicts):
        right = [v.right for v in verdicts if v.span.act == act]
        parts.append(f"{act} {sum(right)}/{len(right)}")
    return f"spans right, {version}: " + ", ".join(parts)
