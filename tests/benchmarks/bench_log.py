"""Speed of reading logs, as ratios to a plain read of the same file and to P (see reference_unit).

Run by hand: python tests/benchmarks/bench_log.py
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from reference_unit import least_seconds, report, unit_p_seconds

from propagation.logbook import adif, contacts, files, reports

RECORDS = 100_000


def records() -> list[dict[str, str]]:
    shared = {
        "QSO_DATE": "20260320",
        "BAND": "20m",
        "FREQ": "14.210000",
        "MODE": "SSB",
        "RST_SENT": "59",
        "RST_RCVD": "57",
        "GRIDSQUARE": "JN58",
        "COMMENT": "a bit of fading, otherwise steady",
    }
    return [
        {"CALL": f"DL{number % 10}TEST", "TIME_ON": f"{number // 60 % 24:02d}{number % 60:02d}00", **shared}
        for number in range(RECORDS)
    ]


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "large.adi"
        data = adif.write(records())
        file.write_bytes(data)
        broken = data.replace(b"<COMMENT:33>", b"<COMMENT:39>")
        archive = b"8001,1774010400,ZS6TEST,KG33,-17,14.0971,ZS5TEST,KG50,43,0,470,350,14,x,0\n" * RECORDS

        def plain() -> list[str]:
            return file.read_bytes().decode("utf-8").splitlines()

        unit, bare, lines = unit_p_seconds(), least_seconds(file.read_bytes), least_seconds(plain)
        print(f"{RECORDS} records, {len(data) / 1e6:.1f} MB; P = {unit:.3f} s")
        print(f"plain read {bare:.4f} s; read, decoded and cut into lines {lines:.4f} s")
        log = adif.read(data)
        for name, seconds in (
            ("the log read", least_seconds(lambda: adif.read(data), 3)),
            (
                "the same, every record with a length that is too long",
                least_seconds(lambda: adif.read(broken), 3),
            ),
            ("its contacts made", least_seconds(lambda: contacts.of_log(log), 3)),
            ("the file opened, all of it", least_seconds(lambda: files.load(file), 3)),
            ("100,000 reception reports", least_seconds(lambda: reports.read(archive), 3)),
        ):
            report(name, seconds, unit)
            print(f"    {seconds:.2f} s = {seconds / bare:.0f} plain reads, {seconds / lines:.0f} in lines")


if __name__ == "__main__":
    main()
