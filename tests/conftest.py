"""Settings for all tests."""

from __future__ import annotations

import signal

import pytest
from hypothesis import settings

# A busy machine is no failure: what must be fast is measured where it is promised.
settings.register_profile("lesson", deadline=None)
settings.load_profile("lesson")

# Started in the background the run may ignore Ctrl-C, and the programs it starts would inherit that.
signal.signal(signal.SIGINT, signal.default_int_handler)

ON_REQUEST = ("every", "hour")
"""Markers of tests that take minutes: they run only where `-m` names them, as `.ci/run` does."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    asked = str(config.getoption("markexpr"))
    left_out = [m for m in ON_REQUEST if m not in asked]
    skipped = [item for item in items if any(item.get_closest_marker(m) for m in left_out)]
    config.hook.pytest_deselected(items=skipped)
    items[:] = [item for item in items if item not in skipped]
