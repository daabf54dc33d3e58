"""Contacts of an outing: what is typed, the record it becomes, and a file that stays whole."""

from __future__ import annotations

import errno
import os
import re
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from propagation.base import files
from propagation.base.errors import InputError
from propagation.logbook import adif, contacts, journal
from propagation.logbook.journal import Worked

AT = np.datetime64("2026-03-20T12:34:56", "s")
ONE = Worked("ZS1TEST", "599", "559", AT, "20m", 14.035, "CW", 5.0, "KG40rs")


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


def vain_calls(count: int) -> list[tuple[str, np.datetime64]]:
    """Calls without an answer, two minutes apart, the last one just before the contact."""
    bands = ("40m", "30m", "17m")
    return [(bands[at % 3], AT - np.timedelta64(120 * (count - at), "s")) for at in range(count)]


def longest_promise(record: bytes) -> int:
    """Bytes that the longest field of a record says it has."""
    return max(int(length) for length in re.findall(rb":(\d+)>", record))


@pytest.mark.parametrize("count", [0, 1, 20, 100])
@pytest.mark.promise
def test_a_log_cut_off_anywhere_takes_the_next_contacts_whole(tmp_path: Path, count: int) -> None:
    """As a battery that dies in the middle of a write would leave it: no contact that was whole is lost."""
    file = tmp_path / "outing.adi"
    before, half, *after = (
        journal.record(replace(ONE, call=f"ZS{number}TEST"), vain_calls(count)) for number in range(1, 5)
    )
    whole = journal.header() + before + half
    step = 1 if count < 50 else 7
    for end in (
        *range(1, len(journal.header()), 3),
        *range(len(journal.header() + before), len(whole), step),
    ):
        file.write_bytes(whole[:end])
        for record in after:
            files.append(file, record, journal.header(), journal.mend)
        calls = [record.fields.get("CALL") for record in adif.read(file.read_bytes()).records]
        made = [one.call for one in journal.contacts_made(file.read_bytes())]
        wanted = ["ZS3TEST", "ZS4TEST"] if end < len(journal.header()) else ["ZS1TEST", "ZS3TEST", "ZS4TEST"]
        assert [call for call in calls if call in wanted] == wanted, end
        assert [call for call in made if call in wanted] == wanted, end


@pytest.mark.parametrize("promised", [100, 201, 1500, 5000])
def test_a_promise_of_any_length_is_kept_with_blanks(tmp_path: Path, promised: int) -> None:
    """Records of other programs, or of an earlier version, may be longer than those written now."""
    file = tmp_path / "outing.adi"
    file.write_bytes(journal.header() + b"<CALL:7>ZS2TEST <COMMENT:%d>half a com" % promised)
    for _ in range(40):
        files.append(file, journal.record(ONE), journal.header(), journal.mend)
    calls = [one.call for one in journal.contacts_made(file.read_bytes())]
    assert calls.count("ZS1TEST") == 40


@pytest.mark.parametrize("count", [1, 13, 14, 20, 100])
def test_no_field_promises_more_than_can_be_mended_and_no_call_is_dropped(count: int) -> None:
    record = journal.record(ONE, vain_calls(count))
    assert longest_promise(record) <= journal.MOST_PROMISED
    found, problems = contacts.unanswered_calls(adif.read(journal.header() + record))
    assert problems == ()
    assert [(one.band, str(one.start)[:16]) for one in found] == [
        (band, str(at)[:16]) for band, at in vain_calls(count)
    ]


@pytest.mark.parametrize("failing", ["write", "fsync"])
def test_a_write_that_fails_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    """As a full disk does it: a part is written, then nothing more."""
    file = tmp_path / "outing.adi"
    files.append(file, journal.record(ONE), journal.header(), journal.mend)
    before = file.read_bytes()
    write = os.write
    written: list[int] = []

    def full(handle: int, data: bytes) -> int:
        if failing == "write" and written:
            raise OSError(errno.ENOSPC, "No space left on device")
        written.append(write(handle, data[:50] if failing == "write" else data))
        return written[-1]

    def refused(handle: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    with monkeypatch.context() as patched:
        patched.setattr(os, "write", full)
        if failing == "fsync":
            patched.setattr(os, "fsync", refused)
        with pytest.raises(OSError, match=r"No space|Input/output"):
            files.append(file, journal.record(ONE), journal.header(), journal.mend)
    assert written
    assert file.read_bytes() == before


def logged(*worked: Worked) -> bytes:
    return journal.header() + b"".join(journal.record(one) for one in worked)


def test_duplicates_are_of_one_band() -> None:
    later = replace(ONE, time=AT + np.timedelta64(3600, "s"))
    made = journal.contacts_made(logged(later, replace(ONE, band="40m"), ONE))
    assert journal.duplicates(made) == [True, False, False], "the later one is the duplicate, wherever it is"
    found = journal.duplicate(made, "ZS1TEST", "40m")
    assert found is not None
    assert found.time == AT
    assert journal.duplicate(made, "ZS1TEST", "15m") is None


WHOLE = replace(
    ONE, own_call="zz9demo/p", own_reference="ZZ/AB-001 ZZ-0042 ZZ-0043 odd", name="Thandi",
    far_locator="KG43", far_reference="ZZFF-0007", note="first one <EOR> today",
)  # fmt: skip


def test_what_the_standard_has_a_field_for_stands_in_it() -> None:
    log = adif.read(logged(WHOLE))
    assert log.problems == ()
    fields = log.records[0].fields
    assert fields["STATION_CALLSIGN"] == "ZZ9DEMO/P"
    assert fields["MY_GRIDSQUARE"] == "KG40rs"
    assert (fields["MY_SOTA_REF"], fields["MY_POTA_REF"]) == ("ZZ/AB-001", "ZZ-0042,ZZ-0043")
    assert fields["MY_SIG_INFO"] == "ODD"
    assert (fields["WWFF_REF"], fields["NAME"], fields["GRIDSQUARE"]) == ("ZZFF-0007", "Thandi", "KG43")
    assert "SOTA_REF" not in fields
    assert not [name for name in fields if name.startswith("APP_")]


@pytest.mark.promise
def test_a_correction_changes_one_record_and_no_other_byte() -> None:
    data = logged(ONE, replace(WHOLE, note="one"), replace(ONE, call="ZS9LAST"))
    data = data.replace(b"<CALL:7>ZS9LAST", b"<APP_OTHER_X:2>yy <CALL:7>ZS9LAST")
    for at, one in enumerate(journal.contacts_made(data)):
        old = data[one.offset : one.offset + one.size]
        new = journal.changed(old, replace(ONE, call="ZS5NEW", band="15m", frequency_mhz=21.2))
        after = journal.replaced(data, old, new)
        log = adif.read(after)
        assert log.problems == ()
        assert [record.fields["CALL"] for record in log.records][at] == "ZS5NEW"
        assert after.replace(new, old) == data
        assert ("APP_OTHER_X" in log.records[at].fields) == (at == 2)
        assert log.records[at].fields.get("MY_SOTA_REF", "") == ("ZZ/AB-001" if at == 1 else "")
        assert "NAME" not in log.records[at].fields, "taken out of the line"
        assert len(adif.read(journal.replaced(data, old, b"")).records) == 2


def test_a_record_that_changed_meanwhile_or_is_damaged_is_left_alone() -> None:
    with pytest.raises(InputError, match="no longer"):
        journal.replaced(logged(ONE), journal.record(WHOLE), b"")
    with pytest.raises(InputError, match="damaged"):
        journal.changed(journal.record(WHOLE)[:-20], ONE)


def test_a_rewrite_waits_for_an_appending_program_and_loses_nothing(tmp_path: Path) -> None:
    file = tmp_path / "outing.adi"
    files.append(file, journal.record(ONE), journal.header())

    def change(data: bytes) -> bytes:
        thread.start()
        thread.join(0.1)
        assert thread.is_alive(), "the other program waits"
        return data.replace(b"ZS1TEST", b"ZS2TEST")

    thread = threading.Thread(target=files.append, args=(file, journal.record(WHOLE), journal.header()))
    files.rewrite(file, change)
    thread.join()
    assert [one.call for one in journal.contacts_made(file.read_bytes())] == ["ZS2TEST", "ZS1TEST"]
