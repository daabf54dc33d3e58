"""References of summits, parks and islands, and the ADIF fields for them.

The pattern of a reference tells its programme, and so its field. Any other goes into the field for
activities that the standard does not list (patterns and names: ADIF 3.1.4, from memory).
"""

from __future__ import annotations

import re
from typing import Final

_ISLAND: Final = re.compile(r"(?:AF|AN|AS|EU|NA|OC|SA)-\d{3}")
_SUMMIT: Final = re.compile(r"[A-Z0-9]{1,4}/[A-Z]{2}-\d{3}")
_NATURE: Final = re.compile(r"[A-Z0-9]{1,3}FF-\d{4}")
_PARK: Final = re.compile(r"[A-Z0-9]{1,4}-\d{4,5}")
_FIELDS: Final = ((_ISLAND, "IOTA"), (_SUMMIT, "SOTA_REF"), (_NATURE, "WWFF_REF"), (_PARK, "POTA_REF"))


def field_of(reference: str) -> str:
    """ADIF field of the other station's reference; empty where no programme has such references."""
    plain = reference.upper()
    return next((name for pattern, name in _FIELDS if pattern.fullmatch(plain)), "")


def own_fields(reference: str) -> dict[str, str]:
    """ADIF fields of the operator's own references, several with blanks or commas between them."""
    found: dict[str, str] = {}
    for one in reference.upper().replace(",", " ").split():
        name = field_of(one)
        if not name:
            found["MY_SIG_INFO"] = f"{found['MY_SIG_INFO']} {one}" if "MY_SIG_INFO" in found else one
        elif name == "POTA_REF" and "MY_POTA_REF" in found:  # the only one of these fields that holds a list
            found["MY_POTA_REF"] += f",{one}"
        else:
            found.setdefault(f"MY_{name}", one)
    return found
