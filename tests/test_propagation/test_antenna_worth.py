"""Worth of a change over a day: of one band or all, at this site or another."""

from dataclasses import replace

import numpy as np
import pytest
from worlds import demo, forecast_of

from propagation.advice.antenna_worth import delivered_dbi, takeoff_deg, worth, worth_of
from propagation.advice.region_chance import outlook
from propagation.antennas.improvements import Candidate, improvements
from propagation.signal.chances.forecast import Forecast
from propagation.space_weather.state import conditions
from propagation.station.terminals import Terminals, far_terminal, own_terminal

DAY = np.datetime64("2026-03-14T00:00", "s")
OWN = demo()


def day(target: str, own=OWN) -> tuple[Forecast, Terminals]:
    ends = Terminals(own_terminal(own), far_terminal(own.far_end))
    return forecast_of(own, ends, target, conditions.typed_in(ssn=80, kp=2), DAY), ends


@pytest.mark.parametrize("target", ["London", "Europe"])
def test_a_change_is_worth_the_day_forecast_with_it(target: str) -> None:
    result, terminals = day(target)
    judge = worth_of(result, terminals, band="20m")
    plain = judge(Candidate("", OWN.antenna, OWN.feedline))
    row = result.band_index("20m")
    assert plain.total == pytest.approx(float(worth(result).by_band[row]), rel=1e-6)
    assert plain.region == result.target.is_region
    salt = judge(Candidate("shore", OWN.antenna, OWN.feedline, "sea"))
    again, _ = day(target, replace(OWN, site=replace(OWN.site, ground="sea")))
    assert salt.total == pytest.approx(float(worth(again).by_band[row]), rel=1e-6)
    assert salt.total > plain.total


def test_the_list_is_ranked_by_what_the_day_gains() -> None:
    """Each gain is told at the take-off angle of the target; a dead band has changes worth nothing."""
    result, terminals = day("Europe")
    row = result.band_index("20m")
    angle, mhz = takeoff_deg(result)[[row]], float(result.frequency_mhz[row])
    time = int(np.argmax(outlook(result).worth[:, row]))
    assert angle[0] == result.at(result.elevation_deg)[time, row]
    judge = worth_of(result, terminals, band="20m")
    site = OWN.site
    found = improvements(OWN.antenna, site.earth, OWN.feedline, [mhz], judge, takeoff_deg=angle)
    won = [one.won for one in found if one.won is not None]
    assert len(won) > 3
    assert won == sorted(won, reverse=True)
    whole = takeoff_deg(result)
    first = found[0]
    site = site if first.candidate.ground is None else replace(site, ground=first.candidate.ground)
    changed = replace(OWN, antenna=first.candidate.spec, feedline=first.candidate.feedline, site=site)
    gains = [delivered_dbi(result, end, whole)[row] for end in (terminals.near, own_terminal(changed))]
    np.testing.assert_allclose(first.gain_db, gains[1] - gains[0], atol=1e-6)
    dead = worth_of(result, terminals, band="160m")(Candidate("", OWN.antenna, OWN.feedline))
    assert dead.total == pytest.approx(float(worth(result).by_band[result.band_index("160m")]), abs=1e-9)
