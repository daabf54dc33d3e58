"""The list of friends: strict reading, whole writing, plain words, waking hours across daylight saving."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.advice.sked import party_of_friend
from propagation.base.errors import InputError
from propagation.spectrum.noise import NoiseLevel, NoiseReading
from propagation.station import friends
from propagation.station.friends import Friend
from propagation.station.station import AWAKE
from propagation.wording.quantities import noise_of

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo"


def test_the_demo_list_and_its_station_file_can_be_read() -> None:
    first, second = friends.load(DEMO / "friends.toml")
    full = first.full_station(DEMO)
    assert full is not None
    assert full.site.time_zone == first.zone.key == "America/Montevideo"
    assert second.zone.key == "Africa/Johannesburg"  # guessed from the town
    assert second.far_end().antenna == "inverted v"
    assert second.full_station(DEMO) is None
    assert second.target.kind == "place"


@given(
    st.lists(
        st.builds(
            Friend,
            name=st.text(min_size=1, max_size=20).map(lambda text: "x" + text),
            place=st.sampled_from(["KG30", "GF25ab", "-29.5,29.5", "Durban", "Uruguay"]),
            words=st.sampled_from(["", "100 W", "5 W vertical", "1 kW, beam at 20 m, city"]),
            time_zone=st.sampled_from(["", "UTC", "Asia/Kolkata"]),
            awake=st.sampled_from([AWAKE, "always", "18:00-02:00", "06:00-08:00, 17:00-22:30"]),
            free=st.sampled_from(["", "18:00-22:00"]),
            note=st.text(max_size=30),
        ),
        max_size=4,
        unique_by=lambda friend: friends.fold(friend.name),
    )
)
@settings(max_examples=80, deadline=None)
def test_what_is_written_is_read_back(some: list[Friend]) -> None:
    assert friends.loads(friends.dumps(some)) == tuple(some)


def test_saving_leaves_a_whole_file_and_no_other(tmp_path: Path) -> None:
    file = tmp_path / "deep" / "friends.toml"
    ana = Friend(name="Ana", place="GF25")
    friends.save([ana], file)
    assert friends.load(file) == (ana,)
    assert [path.name for path in file.parent.iterdir()] == ["friends.toml"]


@pytest.mark.parametrize(
    ("words", "power", "antenna", "height", "noise"),
    [
        ("", 100.0, "dipole", 10.0, "residential"),
        ("100 W, dipole at 10 m, residential", 100.0, "dipole", 10.0, "residential"),
        ("5W into a vertical, quiet rural".replace("into ", ""), 5.0, "vertical", 10.0, "quiet rural"),
        ("1.5 kW, Yagi at 60 ft in the city", 1500.0, "yagi", 18.288, "city"),
        ("inverted vee 8 m up, town", 100.0, "inverted v", 8.0, "residential"),
        ("20 watts mobile whip", 20.0, "loaded vertical", 10.0, "residential"),
    ],
)
def test_plain_words(words: str, power: float, antenna: str, height: float, noise: str) -> None:
    far = Friend(name="x", place="KG30", words=words).far_end()
    np.testing.assert_allclose([far.power_w, far.height_m], [power, height])
    assert (far.antenna, far.noise) == (antenna, noise)


def test_noise_read_off_an_s_meter_in_plain_words() -> None:
    """The band of the reading is no height of the wire; 2400 Hz and an antenna without loss are assumed."""
    far = Friend(name="x", place="KG30", words="50 W, dipole at 8 m, S6 noise on 40 m").far_end()
    assert (far.power_w, far.antenna, far.height_m) == (50.0, "dipole", 8.0)
    assert far.noise_level == NoiseLevel(reading=NoiseReading(6.0, 7.15))
    assert noise_of(far.noise_level) == "noise S6 measured on 40 m"
    assert noise_of(NoiseLevel("rural")) == "rural noise"
    assert noise_of(NoiseLevel(measured_db_at_1_mhz=64.0)) == "noise 64 dB measured at 1 MHz"


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ('[[friend]]\nname = "A"\nplace = "KG30"\nwordz = "5 W"', "words"),
        ('[[friends]]\nname = "A"', "friend"),
        ('[friend]\nname = "A"', "two brackets"),
        ('[[friend]]\nname = "A"', "missing"),
        ('[[friend]]\nname = ""\nplace = "KG30"', "no name"),
        ('[[friend]]\nname = "A"\nplace = "Nowhere at all"', "not a place"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\ntime_zone = "Mars/Base"', "time zone"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\ntime_zone = "../etc"', "time zone"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\nawake = "25:00-26:00"', "awake"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\nawake = "07:00"', "awake"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\nawake = "07:00-07:00"', "awake"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\nwords = "5 W dipol"', "dipole"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\nwords = "90 kW"', "power_w"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\nwords = "5 W"\nstation = "a.toml"', "not both"),
        ('[[friend]]\nname = "A"\nplace = "KG30"\n[[friend]]\nname = "a"\nplace = "KG31"', "twice"),
        ('[[friend]]\nname = 3\nplace = "KG30"', "text"),
        ("[[friend]]\nname = ", "TOML"),
    ],
)
def test_what_is_wrong_is_refused_with_its_place(text: str, hint: str) -> None:
    with pytest.raises(InputError, match=hint) as caught:
        friends.loads(text, "list.toml")
    assert caught.value.message.startswith("list.toml")


UNSEEN = {
    "zero width space": "An\u200ba",
    "zero width joiner": "A\u200dna",
    "byte order mark": "\ufeffAna",
    "word joiner": "An\u2060a",
    "soft hyphen": "An\u00ada",
    "tags": "Ana\U000e0061\U000e007f",
    "variation selectors": "Ana\ufe0f\U000e0101",
    "grapheme joiner": "A\u034fna",
    "filler": "An\u3164a",
    "direction": "A\u202en\u2066a",
}


@pytest.mark.parametrize("name", UNSEEN.values(), ids=UNSEEN)
def test_nothing_unseen_in_a_name_makes_another_friend(name: str) -> None:
    ana = Friend("Ana", "GF25")
    hidden = Friend(name, "KG30")
    assert hidden.name == "Ana"
    with pytest.raises(InputError, match="already"):
        friends.add((ana,), hidden)
    text = '[[friend]]\nname = "Ana"\nplace = "GF25"\n[[friend]]\nname = "' + name + '"\nplace = "KG30"\n'
    with pytest.raises(InputError, match="look alike"):
        friends.loads(text)
    assert friends.find((ana,), name) is ana
    assert friends.resolve(name, (ana,)).lat_deg == ana.target.lat_deg


def test_a_name_of_nothing_seen_is_no_name() -> None:
    with pytest.raises(InputError, match="no name"):
        Friend("\u200b\u00ad\U000e0061", "GF25")


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Zoe\u0308", "Zo\u00eb"),  # composed
        ("Ti\u1ebfn", "Ti\u1ebfn"),  # two marks on one letter, as Vietnamese has them
        ("Ti" + "e\u0302\u0301" + "n", "Ti\u1ebfn"),
        ("A" + "n" + "\u0316" * 30 + "a", "An\u0316\u0316a"),
        ("A" + "n\u0303" + "\u0301" * 30 + "a", "A\u00f1\u0301a"),
        ("\u0e17\u0e35\u0e48", "\u0e17\u0e35\u0e48"),  # Thai: vowel and tone on one consonant
        ("\ud55c", "\ud55c"),
        ('O\'Neil \\ "Q"', 'O\'Neil \\ "Q"'),
    ],
)
def test_a_name_is_kept_as_it_is_seen(typed: str, kept: str) -> None:
    seen = Friend("x" + typed, "GF25").name
    marks = [unicodedata.category(sign) for sign in unicodedata.normalize("NFD", seen)]
    assert "Mn Mn Mn" not in " ".join(marks)
    assert seen == "x" + kept
    assert Friend(seen, "GF25").name == seen


def test_adding_finding_and_removing() -> None:
    ana = Friend(name="Ana", place="GF25")
    some = friends.add((), ana)
    with pytest.raises(InputError, match="already"):
        friends.add(some, Friend(name="ÁNA", place="KG30"))
    assert friends.find(some, "ána") is ana
    with pytest.raises(InputError, match="did you mean 'Ana'"):
        friends.find(some, "Anna")
    assert friends.remove(some, "ana") == ()


def test_a_friend_is_a_target_and_a_completion_before_places() -> None:
    durban = Friend(name="Durban", place="GF25")
    target = friends.resolve("durban", [durban])
    np.testing.assert_allclose(target.lat_deg, [-34.5])
    assert friends.resolve("Uruguay", [durban]).kind == "region"
    assert friends.suggest("dur", [durban])[0] == "Durban"
    assert "Durham, North Carolina" in friends.suggest("dur", [durban])


def test_waking_hours_follow_daylight_saving() -> None:
    # New York 2026: clocks go forward on 8 March (US rule: second Sunday of March); UTC-5, then UTC-4
    owl = party_of_friend(Friend(name="x", place="New York", awake="07:00-23:00"))
    before = np.array(["2026-03-07T11:59", "2026-03-07T12:00", "2026-03-07T03:59", "2026-03-07T04:00"])
    np.testing.assert_array_equal(owl.suits(before.astype("datetime64[s]")), [False, True, True, False])
    after = np.array([["2026-03-09T10:59", "2026-03-09T11:00"], ["2026-03-09T02:59", "2026-03-09T03:00"]])
    np.testing.assert_array_equal(owl.suits(after.astype("datetime64[s]")), [[False, True], [True, False]])
    assert owl.suits(np.datetime64("2026-03-09T12:00")).shape == ()


def test_waking_hours_over_midnight_and_odd_zones() -> None:
    late = party_of_friend(Friend(name="x", place="Kathmandu", awake="20:00-02:00"))  # UTC+5:45
    times = np.array(["2026-06-01T14:14", "2026-06-01T14:15", "2026-06-01T20:14", "2026-06-01T20:15"])
    np.testing.assert_array_equal(late.suits(times.astype("datetime64[s]")), [False, True, True, False])
    whole = party_of_friend(Friend(name="x", place="KG30", awake="always"))
    assert np.all(whole.suits(np.arange("2026-01-01", "2026-01-02", dtype="datetime64[m]")))


def test_a_slip_in_a_friends_name_is_told_like_one_in_a_towns() -> None:
    with pytest.raises(InputError, match="'Marisol'"):
        friends.resolve("Marisoll", (Friend(name="Marisol", place="GF25"),))
