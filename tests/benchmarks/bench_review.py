"""Speed of reviewing long logs, as ratios to P (see reference_unit), and processor time of a whole review.

15,000 contacts are to take 6 s of one processor, and longer logs no more for each contact.

Run by hand: python tests/benchmarks/bench_review.py
"""

from __future__ import annotations

import resource
from dataclasses import replace
from pathlib import Path
from time import process_time

import numpy as np
from reference_unit import least_seconds, report, unit_p_seconds

from propagation.geo.places import resolve
from propagation.logbook import adif, entries, files, station_offset
from propagation.logbook.expected import expect
from propagation.logbook.review import join_logs, review
from propagation.signal.chances.request import Request
from propagation.space_weather.state import conditions
from propagation.station import station

ROOT = Path(__file__).resolve().parents[2]
RECORDS = 100_000
SHORTER = 15_000
PLACES = ("JN58", "IO91", "FN31", "GG66", "JF96", "PM95", "QF22", "KG33", "JO65", "EM12", "DM43", "KP20")
BANDS = ("40m", "30m", "20m", "17m", "15m", "10m")


def log() -> bytes:
    """Ten years of contacts at any hour, a quarter of them without a locator."""
    rng = np.random.default_rng(1)
    seconds = np.sort(rng.integers(0, 10 * 365 * 86400, RECORDS)).astype("timedelta64[s]")
    times = (np.datetime64("2015-01-01", "s") + seconds).astype(str)
    rows = []
    for number, time in enumerate(times.tolist()):
        record = {
            "QSO_DATE": time[:10].replace("-", ""),
            "TIME_ON": time[11:19].replace(":", ""),
            "CALL": f"{('ZS', 'DL', 'PY', 'W')[number % 4]}{number % 9 + 1}T{number % 97:02d}X",
            "BAND": BANDS[int(rng.integers(0, len(BANDS)))],
            "MODE": ("SSB", "CW", "FT8")[number % 3],
            "RST_SENT": ("59", "559", "-10")[number % 3],
            "RST_RCVD": ("57", "599", "-14")[number % 3],
        }
        if number % 4:
            record["GRIDSQUARE"] = PLACES[int(rng.integers(0, len(PLACES)))]
        rows.append(record)
    return adif.write(rows)


def main() -> None:
    own = station.load(ROOT / "fixtures" / "demo" / "station.toml")
    data = log()
    unit, read = unit_p_seconds(), least_seconds(lambda: files.read(data), 1)
    print(f"{RECORDS} records, {len(data) / 1e6:.1f} MB; P = {unit:.3f} s; the log read in {read:.2f} s")
    opened = files.read(data)
    assert opened.contacts is not None
    rows = entries.of_contacts(opened.contacts, own)
    state = conditions.built_in(rows.time)
    request = Request(own, resolve("anyone"), rows.time, state)
    report("every contact's forecast, both ways", least_seconds(lambda: expect(rows, request), 1), unit)
    found = expect(rows, request)
    report("what the log teaches", least_seconds(lambda: station_offset.learn(rows, found, own, ""), 1), unit)
    report("the whole review", least_seconds(lambda: review(join_logs([opened], own), request, ""), 1), unit)
    joined = join_logs([opened], own)
    for count in (SHORTER, RECORDS):
        some = replace(joined, entries=joined.entries.take(slice(0, count)))
        start = process_time()
        review(some, request, "")
        seconds = process_time() - start
        print(f"{count} contacts: {seconds:.1f} s of processor time, {1000.0 * seconds / count:.2f} ms each")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB")


if __name__ == "__main__":
    main()
