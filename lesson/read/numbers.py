"""Numbers as transcripts write them: strings or JSON values, in seconds."""

from __future__ import annotations

import math


def number(value: object) -> float | None:
    """A finite number, or None for anything else (also for true and false)."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return None
    try:
        found = float(value)
    except (ValueError, OverflowError):
        return None
    return found if math.isfinite(found) else None


def milliseconds(value: object) -> int | None:
    """Seconds to whole milliseconds, None for anything that is no finite number."""
    seconds = number(value)
    return round(seconds * 1000) if seconds is not None and abs(seconds) < 1e12 else None
