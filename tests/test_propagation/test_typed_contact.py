"""One typed line: its parts in any order, and what is refused rather than guessed."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from propagation.base.errors import InputError
from propagation.logbook.typed_contact import Typed, understood

DAY = np.datetime64("2026-03-20T00:00:00", "s")


def moment(text: str) -> np.datetime64:
    figures = text.split()[0].lower().rstrip("z").replace(":", "").zfill(4)
    local = 120 if text.endswith("local") else 0
    return DAY + np.timedelta64(60 * (60 * int(figures[:2]) + int(figures[2:]) - local), "s")


def read(text: str, mode: str = "SSB") -> Typed:
    return understood(text, mode, moment)


def test_the_parts_stand_in_any_order() -> None:
    wanted = Typed(
        "ZS0ABC", "599", "579", "40m", None, moment("0912"), "", "KG43ab", "ZZ/AB-001", "first one today"
    )
    parts = ("zs0abc", "599 579", "40m", "0912", "KG43ab", "zz/ab-001")
    for order in permutations(parts):
        found = read(" ".join([*order, "first one today"]), "CW")
        assert found.locator.upper() == "KG43AB"
        assert (found.call, found.sent, found.received, found.band) == ("ZS0ABC", "599", "579", "40m")
        assert (found.time, found.reference, found.note) == (wanted.time, "ZZ/AB-001", "first one today")
        assert read(" ".join(["first one today", *order]), "CW").note == "first one today"


@pytest.mark.parametrize(
    ("text", "mode", "wanted"),
    [
        ("zs1test", "CW", Typed("ZS1TEST", "599", "599")),
        ("ZS1TEST 57", "SSB", Typed("ZS1TEST", "57", "59")),
        ("59 ZS1TEST", "SSB", Typed("ZS1TEST", "59", "59")),
        ("59+20dB 57 ZS1TEST", "SSB", Typed("ZS1TEST", "59+20", "57")),
        ("ZS1TEST/P 5nn 55n", "CW", Typed("ZS1TEST/P", "599", "559")),
        ("ZS1TEST -12 +03", "DIGITAL", Typed("ZS1TEST", "-12", "+03")),
        ("ZS1TEST 40 m", "SSB", Typed("ZS1TEST", "59", "59", "40m")),
        ("ZS1TEST 7.0325", "CW", Typed("ZS1TEST", "599", "599", "40m", 7.0325)),
        ("ZS1TEST 9:12", "SSB", Typed("ZS1TEST", "59", "59", time=moment("0912"))),
        ("ZS1TEST 0912 local 59", "SSB", Typed("ZS1TEST", "59", "59", time=moment("0712"))),
        ("ZS1TEST Thandi", "SSB", Typed("ZS1TEST", "59", "59", name="Thandi")),
        ("ZS1TEST Thandi, 57 on top", "SSB", Typed("ZS1TEST", "57", "59", name="Thandi", note="on top")),
        ("ZS1TEST name ann good ant", "SSB", Typed("ZS1TEST", "59", "59", name="ann", note="good ant")),
        ("ZS1TEST note 57 59 55 73", "SSB", Typed("ZS1TEST", "59", "59", note="57 59 55 73")),
        ("ZS1TEST 59 57 gave ZS2TEST 59 at 0912", "SSB",
         Typed("ZS1TEST", "59", "57", time=moment("0912"), note="gave ZS2TEST 59 at")),
        ("ZS1TEST on 20w", "SSB", Typed("ZS1TEST", "59", "59", note="on 20w")),
        ("ZS1TEST Ann", "CW", Typed("ZS1TEST", "599", "599", name="Ann")),
        ("KG40RS 59", "SSB", Typed("KG40RS", "59", "59")),
        ("KG40RS 59 ZS1TEST", "SSB", Typed("ZS1TEST", "59", "59", locator="KG40RS")),
    ],
)  # fmt: skip
def test_one_line_is_one_contact(text: str, mode: str, wanted: Typed) -> None:
    assert read(text, mode) == wanted


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no call sign"),
        ("59 57", "no call sign"),
        ("ZSTEST 59", "no call sign"),
        ("ZS1<EOR> 59", "no call sign"),
        ("ZS1TEST 99", "not a report"),
        ("ZS1TEST 4tn", "not a report"),
        ("ZS1TEST 59 59 59", "three reports"),
        ("ZS1TEST ZS2TEST", "two call signs"),
        ("ZS1TEST 40m 20m", "two bands"),
        ("ZS1TEST 11m", "no band"),
        ("ZS1TEST 0912 0913", "two times"),
        ("ZS1TEST 2575", "not a report, a time"),
        ("ZS1TEST 8.123", "no amateur band"),
        ("ZS1TEST 7.032 20m", "not on 20m"),
        ("ZS1TEST note " + "x" * 201, "200 fit"),
    ],
)
def test_what_is_not_clear_is_refused(text: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        read(text)
