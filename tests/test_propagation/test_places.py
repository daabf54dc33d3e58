"""Names, regions and rings against the atlas (positions of towns, from memory, to a tenth of a degree)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from propagation.base.errors import InputError
from propagation.geo.gazetteer import fold, gazetteer, towns
from propagation.geo.great_circle import bearing_deg, distance_km
from propagation.geo.locator import Position, locator_of
from propagation.geo.places import (
    AmbiguousPlaceError,
    address,
    full_address,
    named_place,
    place,
    resolve,
    suggest,
    time_zone,
    town_name,
)
from propagation.geo.regions import Target, contains, field, of_region, ring

RIDGE = Position(-29.5, 29.5)


def check(target: Target) -> None:
    n = target.size
    assert target.lat_deg.shape == target.lon_deg.shape == target.weight.shape == (n,)
    assert len(target.labels) == n > 0
    assert all(target.labels)
    np.testing.assert_allclose(np.sum(target.weight), 1.0, rtol=0, atol=1e-12)
    assert np.all(target.weight > 0)
    assert np.all(np.abs(target.lat_deg) <= 90)
    assert np.all(np.abs(target.lon_deg) <= 180)


# Positions of town centres by any atlas; 0.15 degree allows for where each source puts the centre
@pytest.mark.parametrize(
    ("name", "lat", "lon"),
    [
        ("Durban", -29.86, 31.03),
        ("Montevideo", -34.90, -56.19),
        ("london", 51.51, -0.13),
        ("MÜNCHEN", 48.14, 11.58),
        ("muenchen", 48.14, 11.58),
        ("munchen", 48.14, 11.58),
        ("Sao Paulo", -23.55, -46.63),
        ("Tokyo", 35.68, 139.69),
        ("auckland", -36.85, 174.76),
        ("Reykjavik", 64.14, -21.9),
        ("New York", 40.71, -74.01),
        ("saint petersburg", 59.94, 30.31),
    ],
)
def test_towns_are_where_the_atlas_has_them(name: str, lat: float, lon: float) -> None:
    found = place(name)
    np.testing.assert_allclose([found.lat_deg, found.lon_deg], [lat, lon], atol=0.15)
    target = resolve(name)
    assert (target.kind, target.size) == ("place", 1)
    assert target.centre == found


def test_locator_and_coordinates_are_points() -> None:
    target = resolve("KG30ek")
    assert target.kind == "place"
    np.testing.assert_allclose([target.lat_deg[0], target.lon_deg[0]], [-29.5625, 26.375], atol=0.05)
    assert resolve(" -29.5, 29.5 ").centre == RIDGE
    with pytest.raises(InputError, match="locator"):
        resolve("ZZ30")


def test_every_region_of_the_table_is_a_valid_target_of_bounded_size() -> None:
    most = {
        "country": 8,
        "division": 6,
        "zone": 12,
        "sub-region": 24,
        "group": 36,
        "continent": 36,
        "anyone": 120,
    }
    for region in gazetteer().regions:
        target = of_region(region)
        check(target)
        assert target.size <= most[region.kind], region.name


def test_every_name_and_code_of_a_country_resolves_to_it() -> None:
    table = gazetteer()
    for region in table.regions:
        if region.kind == "country":
            for name in (region.name, *region.others):
                assert resolve(name).name == region.name, name
            assert resolve(f"country {region.code}").name == region.name


@pytest.mark.parametrize(
    ("text", "name", "box"),  # box: south, north, west, east, generous, from the atlas
    [
        ("Uruguay", "Uruguay", (-35.5, -30, -58.6, -53)),
        ("UY", "Uruguay", (-35.5, -30, -58.6, -53)),
        ("ury", "Uruguay", (-35.5, -30, -58.6, -53)),
        ("kwazulu natal", "KwaZulu-Natal", (-31.2, -26.8, 28.8, 33)),
        ("Europe", "Europe", (34, 72, -26, 60.01)),
        ("western europe", "Western Europe", (41, 56, -5.5, 17.5)),
        ("Southern Africa", "Southern Africa", (-35, -17, 11, 33)),
        ("ITU zone 57", "ITU zone 57", (-35, -17, 11, 33)),
        ("zone 45", "ITU zone 45", (24, 46, 122, 146)),
        ("Scandinavia", "Scandinavia", (54, 71.5, 4, 31.5)),
        ("the netherlands", "Netherlands", (50.7, 53.6, 3.3, 7.3)),
        ("U.S.A.", "United States", (18, 72, -180, -66)),
        ("Côte d'Ivoire", "Ivory Coast", (4, 11, -9, -2)),
        ("northern territory", "Northern Territory", (-26.1, -10.9, 128.9, 138.1)),
        ("Siberia", "Asiatic Russia", (42, 78, 60, 180)),
    ],
)
def test_regions_lie_where_the_atlas_has_them(
    text: str, name: str, box: tuple[float, float, float, float]
) -> None:
    target = resolve(text)
    check(target)
    assert (target.name, target.kind) == (name, "region")
    south, north, west, east = box
    assert np.all((target.lat_deg > south) & (target.lat_deg < north)), target.labels
    assert np.all((target.lon_deg > west) & (target.lon_deg < east)), target.labels


def test_capital_regions_carry_most_weight_where_most_people_live() -> None:
    uruguay = resolve("Uruguay")
    assert uruguay.labels[uruguay.heaviest] == "Montevideo"
    assert uruguay.weight[uruguay.heaviest] > 0.4  # about half of Uruguay lives there (census, from memory)
    natal = resolve("KwaZulu-Natal")
    assert natal.labels[natal.heaviest] == "Durban"


def test_anyone_covers_the_world() -> None:
    target = resolve("anyone")
    check(target)
    assert target.kind == "anyone"
    for name in ("Europe", "North America", "South America", "Africa", "Asia", "Oceania"):
        part = resolve(name)
        near = distance_km(
            part.lat_deg[part.heaviest], part.lon_deg[part.heaviest], target.lat_deg, target.lon_deg
        )
        assert np.min(near) < 1000.0, name


def test_two_letters_of_a_field_are_the_field_and_say_so() -> None:
    target = resolve("kg")
    assert (target.name, target.kind) == ("field KG", "region")
    assert "Kyrgyzstan" in target.note
    assert resolve("KGZ").name == "Kyrgyzstan"
    assert resolve("field KG").note == ""
    check(target)
    assert np.all((target.lat_deg >= -30) & (target.lat_deg <= -20))
    assert np.all((target.lon_deg >= 20) & (target.lon_deg <= 40))
    check(field("CC"))  # open sea: an even spread
    assert field("CC").size == 9
    check(field("AR"))  # touches the pole


def test_a_far_larger_town_is_taken_and_the_note_names_others() -> None:
    london = resolve("London")
    assert london.name == "London, England"
    assert "there is also London, Ontario" in london.note
    georgia = resolve("Georgia")
    assert "also" in georgia.note
    assert georgia.lon_deg[0] > 40  # the country
    assert named_place("Quebec")[0].startswith("Québec")  # a large town before the province of its name
    assert "for the town write" in resolve("Quebec").note


@pytest.mark.parametrize(
    ("text", "some"),
    [
        (
            "Hamilton",
            ["Hamilton, Ontario, Canada", "Hamilton, New Zealand", "Hamilton, Scotland, United Kingdom"],
        ),
        ("Keswick", ["Keswick, England, United Kingdom", "Keswick, Ontario, Canada"]),
        ("newcastle", ["Newcastle, New South Wales, Australia", "Newcastle, South Africa"]),
        ("Springfield, US", ["Springfield, Illinois, United States"]),
    ],
)
def test_towns_of_one_name_and_like_size_are_listed_with_their_country(text: str, some: list[str]) -> None:
    for ask in (resolve, named_place):
        with pytest.raises(AmbiguousPlaceError, match="several towns") as caught:
            ask(text)
        for name in some:
            assert name in caught.value.choices
            assert name in caught.value.message
        for name in caught.value.choices:  # whatever is offered is understood, and means one town
            assert resolve(name).size == 1


def test_country_division_and_square_tell_towns_apart() -> None:
    there = resolve("Newcastle, South Africa")
    np.testing.assert_allclose([there.lat_deg[0], there.lon_deg[0]], [-27.76, 29.93], atol=0.15)
    assert there.name == "Newcastle, South Africa"
    assert resolve("newcastle, ZA").centre == there.centre
    assert resolve("Newcastle, South Africa, KG42").centre == there.centre


# Positions by any atlas, from memory
@pytest.mark.parametrize(
    ("text", "lat", "lon"),
    [
        ("Valdivia", -39.81, -73.25),
        ("Rovaniemi", 66.50, 25.73),
        ("Fort William", 56.82, -5.11),
        ("Keswick, England", 54.60, -3.13),
        ("rio janeiro", -22.91, -43.2),
        ("Saint Johns, Newfoundland", 47.56, -52.71),
        ("san carlos bariloche", -41.13, -71.3),
    ],
)
def test_small_towns_and_hasty_spellings_are_known(text: str, lat: float, lon: float) -> None:
    found = place(text)
    np.testing.assert_allclose([found.lat_deg, found.lon_deg], [lat, lon], atol=0.15)


def test_a_country_as_a_place_is_its_largest_town_and_larger_regions_are_none() -> None:
    name, position = named_place("Uruguay")
    assert name == "Montevideo, Uruguay"
    np.testing.assert_allclose([position.lat_deg, position.lon_deg], [-34.9, -56.2], atol=0.15)
    for text in ("Europe", "anyone", "ITU zone 28", "within 500 km", "KG"):
        with pytest.raises(InputError, match=r"region|field"):
            place(text)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("Durbann", "Durban"),
        ("Uraguay", "Uruguay"),
        ("zone 95", "1 to 90"),
        ("ITU zone 80", "locator"),
        ("", "type a locator"),
        ("   ", "type a locator"),
        ("x" * 300, "too long"),
        ("qqqq", "locator"),
        ("[red]Durban", "Durban"),
        ("91,0", "Latitude"),
    ],
)
def test_what_is_not_known_is_refused_with_a_hint(text: str, hint: str) -> None:
    with pytest.raises(InputError, match=hint):
        resolve(text)


def test_ring_lies_within_its_distances_and_needs_a_site() -> None:
    target = resolve("within 500 km", site=RIDGE)
    check(target)
    assert (target.kind, target.size) == ("ring", 24)
    away = distance_km(RIDGE.lat_deg, RIDGE.lon_deg, target.lat_deg, target.lon_deg)
    assert np.all((away > 100) & (away < 500))
    # Each circle stands for a third of the area: radii sqrt(1/6), sqrt(1/2), sqrt(5/6) of the outer one
    np.testing.assert_allclose(away.reshape(3, 8)[:, 0], 500 * np.sqrt([1 / 6, 1 / 2, 5 / 6]), rtol=1e-6)
    # Johannesburg, the largest gathering in reach, lies to the north-north-west (atlas)
    toward = bearing_deg(RIDGE.lat_deg, RIDGE.lon_deg, target.lat_deg, target.lon_deg)
    outer = np.arange(24) >= 16
    north = outer & ((toward < 30) | (toward > 300))
    sea = outer & (toward > 100) & (toward < 200)
    assert np.sum(target.weight[north]) > 3 * np.sum(target.weight[sea])
    with pytest.raises(InputError, match="site"):
        resolve("within 500 km")


def test_rings_in_other_words_and_units() -> None:
    shell = resolve("300 to 800 km", site=RIDGE)
    away = distance_km(RIDGE.lat_deg, RIDGE.lon_deg, shell.lat_deg, shell.lon_deg)
    assert np.all((away > 300) & (away < 800))
    miles = resolve("within 100 miles", site=RIDGE)
    away = distance_km(RIDGE.lat_deg, RIDGE.lon_deg, miles.lat_deg, miles.lon_deg)
    assert 140 < np.max(away) < 161
    assert resolve("within 1,000 km", site=RIDGE).name == "within 1000 km"
    for bad in ("within 0 km", "800 to 300 km", "within 20000 km"):
        with pytest.raises(InputError, match="ring"):
            resolve(bad, site=RIDGE)


@given(st.floats(-90, 90), st.floats(-180, 180), st.floats(1, 10_000), st.floats(0, 0.95))
@settings(max_examples=60, deadline=None)
def test_any_ring_anywhere_is_valid(lat: float, lon: float, outer: float, share: float) -> None:
    check(ring(Position(lat, lon), outer, outer * share))


@given(st.text(max_size=40))
@example("Dashi")  # several towns in one country, and two of them in one locator square
@settings(max_examples=200)
def test_any_text_gives_a_target_or_one_sentence(text: str) -> None:
    refusal = "."
    try:
        check(resolve(text, site=RIDGE))
    except InputError as error:
        refusal = error.message
    assert refusal.endswith((".", "?", "..."))
    for name in suggest(text, 5):
        check(resolve(name, site=RIDGE))


@given(st.sampled_from("abcdefghijklmnopqrstuvwxyz"), st.sampled_from("aeiouhrlnst "))
@settings(max_examples=60, deadline=None)
def test_completions_fit_what_was_typed_and_are_understood(first: str, second: str) -> None:
    typed = (first + second).strip()
    names = suggest(typed, 6)
    assert len(names) == len(set(names)) <= 6
    for name in names:
        check(resolve(name, site=RIDGE))
        folded = fold(name)
        rows = [*towns().names.beginning(typed), *towns().names.with_word(typed)]
        # a town may be found by another of its names
        others = any(name.startswith(f"{towns().name(row)}, ") for row in rows)
        assert others or folded.startswith(typed) or f" {typed}" in folded, name


def test_completion_reaches_what_the_demo_needs() -> None:
    assert "Uruguay" in suggest("uru")
    assert "KwaZulu-Natal" in suggest("kwa")
    assert resolve(suggest("natal")[0]).name == "KwaZulu-Natal"
    assert suggest("ITU zone 2")[0].startswith("ITU zone 2")
    assert suggest("anyo") == ["anyone"]
    assert suggest("within")[0].startswith("within")
    assert suggest("", 3) == ["anyone", "within 500 km", "Europe"]
    assert suggest("d", 0) == []
    assert suggest("zzzz") == []


def test_every_town_can_be_reached_by_a_name_of_its_own() -> None:
    table = towns()
    unreached = []
    for row in range(0, len(table), 97):  # a percent of them, over all sizes
        shown = suggest(table.name(row), 40)
        if not {address(row), full_address(row)} & set(shown):
            unreached.append(town_name(row))
    # Towns that share a name with many larger ones need their country typed; there are few
    assert len(unreached) < 25, unreached


def position_of(name: str) -> tuple[float, float]:
    """Where a spelling leads, which must be one place."""
    target = resolve(name)
    assert (target.kind, target.size) == ("place", 1), name
    return float(target.lat_deg[0]), float(target.lon_deg[0])


def check_spellings(rows: Sequence[int]) -> None:
    """Each spelling that is offered of these towns, in a line and in a list, leads to that town alone."""
    table = towns()
    for spell in (address, full_address):
        names = [spell(row) for row in rows]
        found = np.array([position_of(name) for name in names])
        there = np.stack([table.lat_deg[rows], table.lon_deg[rows]], axis=-1)
        wrong = np.flatnonzero(np.any(found != there, axis=-1))
        assert [names[number] for number in wrong] == []
        assert len(set(names)) == len(names)


def shared_names() -> list[int]:
    """Rows of the towns whose name with its country or division is another town's too, and of those that have
    a comma of their own: the ones for which more has to be said.
    """
    names = np.array([fold(town_name(row)) for row in range(len(towns()))])
    _, which, count = np.unique(names, return_inverse=True, return_counts=True)
    commas = [row for row in range(len(towns())) if town_name(row).count(",") > 1]
    return sorted({*np.flatnonzero(count[which] > 1).tolist(), *commas})


def test_what_is_offered_for_a_shared_name_means_that_town() -> None:
    rows = shared_names()
    assert len(rows) > 4000  # of some 78,000
    check_spellings(rows)


def test_towns_at_one_position_have_names_of_their_own() -> None:
    """Two spellings that lead to two positions differ; those of one position are compared here."""
    table = towns()
    at = np.stack([table.lat_deg, table.lon_deg], axis=-1)
    _, which, count = np.unique(at, axis=0, return_inverse=True, return_counts=True)
    rows = np.flatnonzero(count[which.ravel()] > 1).tolist()
    assert len(rows) > 1000  # of some 78,000
    for spell in (address, full_address):
        assert len({spell(row) for row in rows}) == len(rows)


PARTS = 12  # of the towns, so that several workers share them


@pytest.mark.slow
@pytest.mark.parametrize("part", range(PARTS))
def test_what_is_offered_for_any_town_means_that_town(part: int) -> None:
    check_spellings(range(part, len(towns()), PARTS))


def test_towns_of_one_name_and_square_are_told_apart_by_division_or_a_finer_locator() -> None:
    with pytest.raises(AmbiguousPlaceError) as caught:  # three towns of one country in one square of 4 signs
        resolve("Dashi, China, OM30")
    assert len({position_of(name) for name in caught.value.choices}) == len(caught.value.choices) > 1
    assert all(name.startswith("Dashi, China, OM30") for name in caught.value.choices)
    brazil = [name for name in suggest("Planaltina", 20) if "Brazil" in name]
    assert len(brazil) == len({position_of(name) for name in brazil}) > 1
    with pytest.raises(AmbiguousPlaceError) as caught:
        resolve("Candeias")
    assert caught.value.choices[:2] == ("Candeias, Bahia, Brazil", "Candeias, Minas Gerais, Brazil")


def test_names_with_commas_of_their_own_are_understood() -> None:
    square = locator_of(*position_of("Misato, Saitama"), 4)
    assert position_of(f"Misato, Saitama, Japan, {square}") == position_of("Misato, Saitama")
    assert resolve("Kralendijk, Bonaire, Sint Eustatius and Saba").centre == resolve("Kralendijk").centre
    assert resolve("Durban, ,").centre == resolve("Durban").centre
    with pytest.raises(InputError, match="not a place"):
        resolve("Durban, South Africa, Saba")
    with pytest.raises(InputError, match="not a place"):
        resolve("Durban, KG4")


def test_every_region_that_is_offered_means_that_region() -> None:
    table = gazetteer()
    for form in table.regions_by_name:
        for name in suggest(form, 40):
            check(resolve(name, site=RIDGE))
    for region in table.regions:
        if len(region.name) > 3:
            assert any(resolve(name).name == region.name for name in suggest(region.name, 40)), region.name


def test_what_stands_for_a_country_is_a_spelling_of_it() -> None:
    """A country or division taken as a place is named by its largest town: that name leads to it again."""
    for region in gazetteer().regions:
        if region.kind in ("country", "division"):
            try:
                name, position = named_place(region.name)
            except AmbiguousPlaceError:  # a large town bears the name, and others do
                continue
            there = place(name)
            away = distance_km(position.lat_deg, position.lon_deg, there.lat_deg, there.lon_deg)
            assert away < 30.0, (region.name, name)


def test_time_zones() -> None:
    assert time_zone(RIDGE) == "Africa/Johannesburg"
    assert time_zone(place("Montevideo")) == "America/Montevideo"
    assert time_zone(place("Perth")) == "Australia/Perth"
    assert time_zone(place("Los Angeles")) == "America/Los_Angeles"


def test_targets_cannot_be_changed_by_accident() -> None:
    target = resolve("Europe")
    with pytest.raises(ValueError, match="read-only"):
        target.weight[0] = 1.0


@pytest.mark.parametrize(
    ("target", "inside"),
    [
        ("South America", {"GF25"}),
        ("Uruguay", {"GF25"}),
        ("Africa", {"Durban"}),
        ("Europe", {"London", "Berlin"}),
        ("Germany", {"Berlin"}),
        ("California", {"Los Angeles"}),
        ("GF", {"GF25"}),
        ("within 500 km", {"Durban"}),
        ("within 300 km", {"Durban"}),  # 180 km from the ridge
        ("within 100 km", set()),
        ("anyone", {"GF25", "Durban", "London", "Berlin", "Los Angeles"}),
    ],
)
def test_the_places_in_a_region(target: str, inside: set[str]) -> None:
    found = resolve(target, RIDGE)
    known = ("GF25", "Durban", "London", "Berlin", "Los Angeles")
    assert {name for name in known if contains(found, place(name), RIDGE)} == inside
