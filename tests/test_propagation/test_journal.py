"""Contacts of an outing: what is typed, the record it becomes, and a file that stays whole."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from propagation.base import files
from propagation.base.errors import InputError
from propagation.logbook import adif, contacts, journal
from propagation.logbook.journal import Worked

AT = np.datetime64("2026-03-20T12:34:56", "s")
ONE = Worked("ZS1TEST", "599", "559", AT, "20m", 14.035, "CW", 5.0, "KG40rs")


@pytest.mark.parametrize(
    ("text", "mode", "found"),
    [
        ("zs1test", "CW", ("ZS1TEST", "599", "599")),
        ("ZS1TEST 57", "SSB", ("ZS1TEST", "57", "59")),
        ("zs1test/p 5nn 4tn", "CW", None),  # 409 is no report: readability 4, strength 0
        ("ZS1TEST/P 5nn 55n", "CW", ("ZS1TEST/P", "599", "559")),
        ("ZS1TEST -12 +03", "DIGITAL", ("ZS1TEST", "-12", "+03")),
        ("", "CW", None),
        ("59 ZS1TEST", "SSB", None),
        ("ZS1TEST 99", "SSB", None),
        ("ZS1TEST 59 59 59", "SSB", None),
        ("ZSTEST 59", "SSB", None),
        ("ZS1<EOR> 59", "SSB", None),
    ],
)
def test_one_line_is_a_contact_or_is_refused(text: str, mode: str, found: tuple[str, ...] | None) -> None:
    if found is None:
        with pytest.raises(InputError):
            journal.typed(text, mode)
    else:
        assert journal.typed(text, mode) == found


def test_the_file_is_a_log_at_any_moment(tmp_path: Path) -> None:
    file = tmp_path / "deep" / "outing.adi"
    for count in range(1, 4):
        files.append(file, journal.record(ONE), journal.header())
        log = adif.read(file.read_bytes())
        assert len(log.records) == count
        assert log.problems == ()
    rows, problems = contacts.of_log(log)
    assert problems == ()
    assert rows.time[0] == AT
    assert log.header["PROGRAMID"] == "bandwhen"
    assert log.records[0].fields["RST_RCVD"] == "559"


def test_calls_in_vain_stand_in_the_next_contact() -> None:
    vain = [("40m", AT - np.timedelta64(900, "s")), ("30m", AT - np.timedelta64(300, "s"))]
    log = adif.read(journal.header() + journal.record(ONE, vain))
    found, problems = contacts.unanswered_calls(log)
    assert problems == ()
    assert [(one.band, str(one.start)[11:16]) for one in found] == [("40m", "12:19"), ("30m", "12:29")]


def test_a_file_cut_off_anywhere_takes_the_next_contact_whole(tmp_path: Path) -> None:
    """As a battery that dies in the middle of a write would leave it: the next record is never lost."""
    whole = journal.header() + journal.record(ONE)
    file = tmp_path / "outing.adi"
    for end in range(len(journal.header()), len(whole), 9):
        file.write_bytes(whole[:end])
        files.append(file, journal.record(ONE), journal.header(), journal.MEND)
        calls = journal.calls_worked(file.read_bytes())
        assert calls[-1] == ("ZS1TEST", "20m", "12:34"), end


def test_duplicates_are_of_one_band() -> None:
    worked = [("ZS1TEST", "20m", "12:34"), ("ZS1TEST", "40m", "13:00"), ("ZS1TEST", "20m", "14:00")]
    assert journal.duplicate("ZS1TEST", "20m", worked) == "14:00"
    assert journal.duplicate("ZS1TEST", "15m", worked) == ""
