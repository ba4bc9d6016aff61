"""Settings for all tests."""

from __future__ import annotations

from hypothesis import settings

# A busy machine is no failure: what must be fast is measured where it is promised.
settings.register_profile("lesson", deadline=None)
settings.load_profile("lesson")
