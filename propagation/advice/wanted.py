"""What an outing asks of a region: so many contacts in the hour that follows."""

from __future__ import annotations

from typing import Final

CONTACTS: Final = 4  # contacts an outing commonly asks for (common practice, no source)
