"""Logs: malformed files with their hand-written expectation, truncation anywhere, round trips of any text."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.base.errors import InputError
from propagation.logbook import adif, adx, contacts, files
from propagation.logbook.contacts import report_db, visible

LOGS = Path(__file__).resolve().parents[2] / "fixtures" / "logs"
EXPECTED: dict[str, Any] = json.loads((LOGS / "expected.json").read_text(encoding="utf-8"))


def offset_of(data: bytes, at: str | int) -> int:
    if isinstance(at, int):
        return at
    assert data.count(at.encode()) >= 1, at
    return data.index(at.encode())


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_malformed_files_give_their_contacts_and_tell_their_problems(name: str) -> None:
    data = (LOGS / name).read_bytes()
    wanted = EXPECTED[name]
    found = files.load(LOGS / name)
    assert found.contacts is not None
    order = np.argsort(found.contacts.offset)
    assert [found.contacts.call[row] for row in order.tolist()] == wanted["contacts"]
    told = [(problem.offset, problem.reason, problem.lost) for problem in found.problems]
    for problem in wanted["problems"]:
        offset = offset_of(data, problem["at"])
        assert any(
            there == offset and problem["reason"] in reason and lost == problem["lost"]
            for there, reason, lost in told
        ), (problem, offset, told)
    assert len(told) == len(wanted["problems"]), told
    log = adx.read(data) if name.endswith(".adx") else adif.read(data)
    for number, values in wanted.get("fields", {}).items():
        for key, value in values.items():
            assert log.records[int(number)].fields[key] == value


def test_every_fixture_has_an_expectation() -> None:
    assert {path.name for path in LOGS.glob("*.ad?")} == set(EXPECTED)
    assert len(EXPECTED) >= 20


def whole_log(count: int = 12) -> tuple[bytes, list[dict[str, str]]]:
    records = [
        {
            "CALL": f"DL{number}TEST",
            "QSO_DATE": "20260320",
            "TIME_ON": f"12{number:02d}",
            "BAND": "20m",
            "MODE": "SSB",
            "NAME": "Jürgen",
            "COMMENT": "tnx <EOR> [QSB]" if number % 3 == 0 else "fb",
        }
        for number in range(count)
    ]
    return adif.write(records, {"PROGRAMID": "test"}, "Invented"), records


def test_a_log_cut_off_anywhere_keeps_every_whole_record_and_tells_of_the_rest() -> None:
    data, records = whole_log()
    starts = [record.offset for record in adif.read(data).records]
    ends = [*starts[1:], len(data)]
    body = data.index(b"<EOH>") + 5
    for cut in [*range(0, len(data), 50), *range(body, body + 200)]:
        log = adif.read(data[:cut])
        complete = data[:cut].rstrip().endswith(b"<EOR>")
        whole = sum(end <= cut + (1 if complete else 0) for end in ends)
        assert [record.fields for record in log.records[:whole]] == records[:whole], cut
        begun = sum(start < cut for start in starts)
        if begun > whole:  # the record that was cut is there in part or told as lost, never silent
            assert any(problem.offset >= starts[whole] for problem in log.problems), cut
        for record in log.records[whole:]:
            original = records[whole]
            # a value may have been cut at an end of record quoted inside it, never turned into another
            assert all(original[key].startswith(value) for key, value in record.fields.items()), cut


def test_a_byte_broken_anywhere_costs_at_most_its_neighbours() -> None:
    data, records = whole_log()
    calls = [record["CALL"] for record in records]
    body = data.index(b"<EOH>") + 5
    for place in range(body, len(data), 7):
        for junk in (b"<", b"9", b"\xff", b">"):
            broken = data[:place] + junk + data[place + 1 :]
            log = adif.read(broken)
            read = [record.fields.get("CALL") for record in log.records]
            assert sum(call in read for call in calls) >= len(calls) - 2, (place, junk, log.problems)
            if len(log.records) < len(records):
                assert log.problems, (place, junk)


NAMES = st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ_0123456789", min_size=1, max_size=12).map(lambda text: "X" + text)
RECORDS = st.lists(
    st.dictionaries(NAMES, st.text(max_size=40), min_size=1, max_size=6).map(
        lambda some: {"CALL": "Q0TEST", **some}
    ),
    max_size=6,
)


@given(RECORDS)
@settings(max_examples=200, deadline=None)
def test_what_is_written_is_read_back(records: list[dict[str, str]]) -> None:
    log = adif.read(adif.write(records, {"PROGRAMID": "test"}, "any <text>"))
    assert [record.fields for record in log.records] == records
    assert log.header["PROGRAMID"] == "test"
    if records:
        assert log.problems == ()


@given(st.binary(max_size=400))
@settings(max_examples=200, deadline=None)
def test_any_bytes_give_a_log_and_never_a_fault(data: bytes) -> None:
    found = files.read(data)
    size = 0
    for part in (found.contacts, found.reports):
        size += 0 if part is None else part.size
    assert size or found.problems
    for form in (adif.read, adx.read):
        assert all(0 <= problem.offset <= 4 * len(data) for problem in form(data).problems)


PIECES = st.sampled_from(
    ["<CALL:7>ZS5TEST", "<EOR>", "<EOH>", "<QSO_DATE:8>20260320", "<TIME_ON:4>1200", "<BAND:3>20m",
     "<COMMENT:9>", "é", "<", ">", " ", "\r\n", "<CALL>", "<X:5", "<COMMENT:3>abc",
     "<COMMENT:-1>", "junk", "<MODE:2>CW"]
)  # fmt: skip


@given(st.lists(PIECES, max_size=25))
@settings(max_examples=200, deadline=None)
def test_no_call_is_lost_in_silence(pieces: list[str]) -> None:
    data = "".join(pieces).encode()
    log = adif.read(data)
    wanted = data.count(b"<CALL:7>ZS5TEST")
    read = sum(record.fields.get("CALL") == "ZS5TEST" for record in log.records)
    if read < wanted and not any("<CALL" in str(record.fields) for record in log.records):
        assert log.problems


def test_contacts_are_columns_in_order_of_time() -> None:
    log = adif.read(
        adif.write(
            [
                {"CALL": "cx4test", "QSO_DATE": "2026-03-20", "TIME_ON": "19:06", "FREQ": "14.2105",
                 "MODE": "USB", "GRIDSQUARE": "GF25", "RST_SENT": "55", "RST_RCVD": "-12",
                 "MY_GRIDSQUARE": "KG50ab", "TX_PWR": "20"},
                {"CALL": "DL1TEST", "QSO_DATE": "20260320", "TIME_ON": "905", "BAND": "40M", "MODE": "MFSK",
                 "SUBMODE": "FT4"},
                {"CALL": "ZS5TEST", "QSO_DATE": "20260320", "TIME_ON": "120530", "BAND": "2m", "MODE": "FM",
                 "LAT": "S029 30.000", "LON": "E030 15.000"},
                {"CALL": "VP8TEST", "QSO_DATE": "20260320", "TIME_ON": "1300", "BAND": "20m", "MODE": "CW",
                 "GRIDSQUARE": "GD18bh11aa55"},
            ]
        )
    )  # fmt: skip
    found, problems = contacts.of_log(log)
    assert problems == ()
    assert found.call == ("DL1TEST", "ZS5TEST", "VP8TEST", "CX4TEST")
    assert [str(time) for time in found.time[:2]] == ["2026-03-20T09:05:00", "2026-03-20T12:05:30"]
    assert found.band == ("40m", "2m", "20m", "20m")
    assert found.mode == ("FT4", "FM", "CW", "USB")
    assert found.mode_class == ("DIGITAL", "FM", "CW", "SSB")
    assert found.source == ("prefix", "coordinates", "locator", "locator")
    assert found.country[0] == "Germany"
    np.testing.assert_allclose([found.lat_deg[1], found.lon_deg[1]], [-29.5, 30.25])
    np.testing.assert_allclose(found.frequency_mhz, [np.nan, np.nan, np.nan, 14.2105])
    np.testing.assert_allclose(
        found.own_lat_deg[3], -29.9375
    )  # KG50ab: 1.5 times 2.5 minutes north of -30 (by hand)
    assert report_db(found.report_received[3]) == -12.0
    assert np.isnan(report_db(found.report_sent[3]))
    # A square is 1 by 2 degrees: half its diagonal at 34.5 degrees south is 107 km (by hand)
    np.testing.assert_allclose(found.uncertainty_km[3], 107.4, atol=0.5)
    assert 150.0 < found.uncertainty_km[0] < 400.0  # Germany: some 300 km to its edges (atlas)
    assert found.uncertainty_km[2] < 1.0
    later = found.take(found.time > np.datetime64("2026-03-20T12:30"))
    assert later.call == ("VP8TEST", "CX4TEST")
    assert later.size == 2


def test_control_characters_and_brackets_are_made_safe_to_show() -> None:
    assert visible("bell\x07 \x1b[31mred\x1b[0m \u202eodd") == "bell· ·[31mred·[0m ·odd"
    assert visible("line\r\nnext\tcell") == "line next cell"
    assert visible("59 [QSB] Grüße €") == "59 [QSB] Grüße €"
    found = files.load(LOGS / "control_characters.adi")
    assert found.contacts is not None
    assert all(comment.isprintable() for comment in found.contacts.comment)


@given(st.text(max_size=30))
def test_shown_text_has_no_control_character(text: str) -> None:
    assert not any(
        ord(mark) < 32 or 127 <= ord(mark) < 160 or ord(mark) in (0x2028, 0x202E) for mark in visible(text)
    )


def test_forms_are_told_by_content_and_missing_files_in_one_sentence(tmp_path: Path) -> None:
    assert files.form_of((LOGS / "records.adx").read_bytes()) == "ADX"
    assert files.form_of((LOGS / "utf16.adi").read_bytes()) == "ADIF"
    assert files.form_of((LOGS / "clean.adi").read_bytes()) == "ADIF"
    assert files.form_of((LOGS / "reports_archive.csv").read_bytes()) == "CSV"
    for path in (tmp_path, tmp_path / "none.adi"):
        with pytest.raises(InputError):
            files.load(path)


def test_an_outside_entity_in_adx_is_never_followed() -> None:
    data = b'<?xml version="1.0"?><!DOCTYPE ADX [<!ENTITY x SYSTEM "file:///etc/passwd">]>' + (
        b"<ADX><RECORDS><RECORD><CALL>&x;</CALL></RECORD><RECORD><CALL>Q0TEST</CALL></RECORD></RECORDS></ADX>"
    )
    log = adx.read(data)
    assert [record.fields for record in log.records] == [{"CALL": "Q0TEST"}]
    assert log.problems[0].lost


def test_the_reading_of_a_file_tells_how_far_it_is_and_can_be_stopped(tmp_path: Path) -> None:
    file = tmp_path / "long.adi"
    record = b"<CALL:6>Q0TEST<QSO_DATE:8>20260320<TIME_ON:4>1200<BAND:3>20m<MODE:3>SSB<EOR>\n"
    file.write_bytes(record * 60_000)
    told: list[tuple[int, int]] = []
    files.load(file, lambda done, whole: told.append((done, whole)))
    assert {whole for _, whole in told} == {file.stat().st_size}
    parts = [done for done, _ in told]
    assert parts == sorted(parts)
    assert parts[-1] == file.stat().st_size

    def stop(done: int, whole: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        files.load(file, stop)


def test_the_demo_log_is_whole_invented_and_read_without_a_problem() -> None:
    file = LOGS.parent / "demo" / "ridge_day.adi"
    assert b"INVENTED" in file.read_bytes()
    found = files.load(file)
    assert found.problems == ()
    assert found.contacts is not None
    assert found.contacts.size == 55
    assert all(call.removesuffix("/P").endswith("TEST") for call in found.contacts.call)
    assert set(found.contacts.band) == {"40m", "30m", "20m", "17m", "15m", "12m"}  # 10 m was silent
    assert "Uruguay" in found.contacts.country
    digital = np.array([mode == "FT8" for mode in found.contacts.mode])
    np.testing.assert_allclose(found.contacts.power_w, np.where(digital, 20.0, 50.0))


def test_stretches_in_vain_are_read_from_the_demo_and_over_midnight() -> None:
    stretches = files.load(LOGS.parent / "demo" / "ridge_day.adi").unanswered_calls
    assert [stretch.band for stretch in stretches] == ["10m", "40m", "12m"]
    assert str(stretches[0].start) == "2025-09-20T08:40:00"
    assert str(stretches[2].end) == "2025-09-20T13:00:00"
    record = {"CALL": "Q0TEST", "QSO_DATE": "20260320", "TIME_ON": "0010"}
    odd = adif.read(
        adif.write([{**record, contacts.TRIED_FIELD: "40m 23:30-00:05; 11m 0000-0005; [b] soon"}])
    )
    stretches, problems = contacts.unanswered_calls(odd)
    assert [(str(s.start), str(s.end)) for s in stretches] == [("2026-03-19T23:30:00", "2026-03-20T00:05:00")]
    assert [problem.offset for problem in problems] == [odd.records[0].offset] * 2
    whole = files.read(
        adif.write([{**record, contacts.TRIED_FIELD: "40m 23:30-00:05; 11m 0000-0005", "BAND": "20m"}])
    )
    assert whole.unanswered_calls == stretches  # a file as read has them, and what was not understood
    assert [problem.reason[:18] for problem in whole.problems if "11m" in problem.reason] == [
        contacts.TRIED_FIELD
    ]


# -- Cabrillo
# -------------------------------------------------------------------------------------------------


def test_a_contest_log_is_read_with_its_places_reports_and_faults() -> None:
    """Four kinds of exchange, a transmitter's number, one contact that does not count, three faulty lines."""
    found = files.load(LOGS / "contest.log")
    made = found.contacts
    assert made is not None
    assert found.form == "Cabrillo"
    assert made.call == ("DL1TEST", "VP2E/W1TEST", "ZS6TEST", "3B8TEST", "W1TEST")
    assert made.band == ("40m", "20m", "20m", "6m", "15m")
    assert made.mode_class == ("CW", "SSB", "DIGITAL", "SSB", "CW")
    assert made.report_sent == ("599", "59", "-03", "", "5NN")
    assert made.report_received == ("599", "57", "+01", "", "5NN")
    assert made.source == ("prefix", "prefix", "locator", "locator", "prefix")
    np.testing.assert_allclose(made.frequency_mhz[:3], [7.003, 14.25, 14.09])
    np.testing.assert_allclose(made.own_lat_deg, -29.5)  # KG50, the heading's
    assert [(one.line, one.lost) for one in found.problems] == [(12, True), (13, True), (14, False)]


def test_a_contest_log_is_the_same_in_blocks_of_any_size() -> None:
    data = (LOGS / "contest.log").read_bytes()
    whole = files.read(data).contacts
    assert whole is not None
    for size in (40, 97, 300):
        parts = files.read(data.replace(b"\n", b"\r\n"), size).contacts
        assert parts is not None
        assert parts.call == whole.call
        np.testing.assert_array_equal(parts.own_lat_deg, whole.own_lat_deg)


@given(st.text(alphabet="QSO: 7003CWPH2026-03-20\n\tABC/59", max_size=300))
def test_any_contest_log_gives_contacts_or_problems(text: str) -> None:
    found = files.read(b"START-OF-LOG: 3.0\n" + text.encode())
    assert found.form == "Cabrillo"
    assert found.contacts is not None
    assert found.contacts.size or found.problems


def test_a_power_that_cannot_be_is_told_and_left_out() -> None:
    one = {"CALL": "ZS1TEST", "QSO_DATE": "20260320", "TIME_ON": "0900", "BAND": "20m", "MODE": "CW"}
    found = files.read(adif.write([one | {"TX_PWR": "100000"}, one | {"TX_PWR": "10"}]))
    assert found.contacts is not None
    np.testing.assert_array_equal(np.sort(found.contacts.power_w), [10.0, np.nan])
    assert "TX_PWR of 100000 W" in found.problems[0].reason
