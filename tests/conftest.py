"""Settings shared by all tests."""

from __future__ import annotations

from hypothesis import settings

# No time limit for an example: a busy machine must not turn a slow first import into a failure.
settings.register_profile("bandwhen", deadline=None)
settings.load_profile("bandwhen")
