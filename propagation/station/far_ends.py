"""Mixture of stations at the other end: small, ordinary and large, in stated shares.

A region is not one typical station. A third of its stations have a low wire and a noisy town around them; one
in ten has a beam on a tower, high power, and low noise. Each kind is described by its differences in decibels
from the far end that the forecast assumes (its antenna, power and noise), one for each direction. This
neglects that a beam gains more at low angles than at high ones, some 3 dB either way. In return the path is
computed once for all kinds, and an operator can judge and set the differences.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from propagation.base.errors import InputError
from propagation.base.strict_toml import between

_SUM_WITHIN: Final = 1e-6  # largest deviation of the sum of shares from one


@dataclass(frozen=True)
class FarKind:
    """Kind of station at the other end.

    share: of all stations, 0..1. out_db: how much better than the forecast's far end it hears the operator
    [dB]: directivity, and less noise. back_db: how much better it is heard by the operator [dB]: gain and
    power.
    """

    name: str
    share: float
    out_db: float
    back_db: float


@dataclass(frozen=True)
class FarEnds:
    """Mixture of kinds; shares from 0 to 1 with a sum of 1.

    Raises InputError for other shares.
    """

    kinds: tuple[FarKind, ...]

    def __post_init__(self) -> None:
        total = sum(kind.share for kind in self.kinds)
        if abs(total - 1.0) > _SUM_WITHIN or any(not 0.0 <= kind.share <= 1.0 for kind in self.kinds):
            raise InputError(
                f"The shares of small, ordinary and large stations make {total:.3g}: give shares from 0 "
                f"to 1 that make 1."
            )

    @property
    def best(self) -> FarKind:
        """Kind with the best signals in both directions, of those with a share above 0."""
        some = [kind for kind in self.kinds if kind.share > 0.0]
        return max(some, key=lambda kind: min(kind.out_db, kind.back_db))


# Shares and differences: common practice, no source; the noise from P.372's man-made constants (`noise`).
# Small: a low wire, 5 dB down at the low angles that count, a town's noise 4 dB over a residential one
# (76.8 against 72.5), half the power (3 dB). Large: a beam and height, 10 dB (a beam at 18 m gives 13 dB over
# the usual dipole of unknown direction, 20 m band, 5 to 15 degrees, tested; few have one on 40 m, and it may
# point elsewhere), the lower noise of the country, 5 dB (67.2 against 72.5), 400 W against 100 W (6 dB).
SMALL: Final = FarKind("small", 0.35, out_db=-9.0, back_db=-8.0)
ORDINARY: Final = FarKind("ordinary", 0.55, out_db=0.0, back_db=0.0)
LARGE: Final = FarKind("large", 0.10, out_db=15.0, back_db=16.0)

USUAL: Final = FarEnds((SMALL, ORDINARY, LARGE))
ALIKE: Final = FarEnds((FarKind("as assumed", 1.0, 0.0, 0.0),))

CONTACTS: Final = 4  # contacts an outing commonly requires in an hour (common practice, no source)
MOST_PER_HOUR: Final = 200.0  # contacts an hour, faster than any exchange by hand (ours)
MOST_CONTACTS: Final = 60  # one a minute, more than an operator can work by hand (ours)


@dataclass(frozen=True)
class WhoAnswers:
    """Contacts requested of a region and shares of its stations: the `[people]` table of a station file.

    contacts: number in an hour that the chance applies to. small, ordinary, large: the shares of the kinds.
    most_per_hour: contacts an hour if every call were answered at once, None for the mode's usual.
    Raises InputError for shares that do not sum to 1.
    """

    contacts: int = field(default=CONTACTS, metadata=between(1, MOST_CONTACTS))
    small: float = field(default=SMALL.share, metadata=between(0.0, 1.0))
    ordinary: float = field(default=ORDINARY.share, metadata=between(0.0, 1.0))
    large: float = field(default=LARGE.share, metadata=between(0.0, 1.0))
    most_per_hour: float | None = field(default=None, metadata=between(1.0, MOST_PER_HOUR))

    def __post_init__(self) -> None:
        self.far_ends  # noqa: B018 - shares that make no whole are refused at once

    @property
    def far_ends(self) -> FarEnds:
        """Mixture of kinds."""
        shares = (self.small, self.ordinary, self.large)
        pairs = zip(USUAL.kinds, shares, strict=True)
        return FarEnds(tuple(replace(kind, share=share) for kind, share in pairs))
