"""Which instruments stand where, from when on, and when were they away or broken?

Every laboratory has a microscope and one further instrument, the large ones seven more. Numbers are
given out by county, so the same seed gives the same numbers.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import replace

from demo_data.scenario.chance import Chance
from demo_data.scenario.names import LARGE_COUNTIES, MAKERS
from demo_data.scenario.opening import FIRST_ON, open_from
from demo_data.scenario.places import SITES
from fleet.domain.records import Outage, Placement, Unit

__all__ = ["OUTAGES", "PLACEMENTS", "UNITS", "unit_of"]

_SMALL_EXTRAS = (
    "refrigerator", "centrifuge", "thermometer", "eyewash", "refrigerator", "pipette", "balance",
    "fire-extinguisher", "freezer", "centrifuge", "refrigerator", "incubator", "thermometer",
)  # fmt: skip
_LARGE_EXTRAS = (
    "microscope", "centrifuge", "refrigerator", "autoclave", "biosafety-cabinet", "incubator",
    "pipette", "freezer", "balance", "thermometer",
)  # fmt: skip
_EXTRAS_OF_A_LARGE_SITE = 7
# Sites whose units are lent, moved, watched or owed a service in the story.
_THERE_FROM_THE_START = frozenset({
    "boyd", "buffalo", "cass", "dawes", "dixon", "dodge", "frontier", "furnas", "hall", "holt",
    "lincoln", "nance", "otoe", "phelps", "pierce", "rock", "saline", "sarpy", "york",
})  # fmt: skip


def _kinds_of_sites() -> Iterable[tuple[str, str]]:
    """Site and kind of every unit, in the order in which numbers are given out."""
    small, large = 0, 0
    for site in SITES:
        yield site.site, "microscope"
        if site.county in LARGE_COUNTIES:
            yield site.site, "microscope"
            for _ in range(_EXTRAS_OF_A_LARGE_SITE - 1):
                large += 1
                yield site.site, _LARGE_EXTRAS[1 + large % (len(_LARGE_EXTRAS) - 1)]
        else:
            small += 1
            yield site.site, _SMALL_EXTRAS[small % len(_SMALL_EXTRAS)]


def _unit(number: int, site: str, kind: str) -> Unit:
    property_number = f"PN{number}"
    chance = Chance("unit", property_number)
    maker, model = chance.pick(MAKERS[kind])
    in_service_on = dt.date(chance.whole(2016, 2023), chance.whole(1, 12), chance.whole(1, 28))
    if chance.happens(0.1):
        in_service_on = FIRST_ON + dt.timedelta(days=chance.whole(60, 500))
    in_service_on = open_from(site, in_service_on)
    return Unit(
        property_number=property_number,
        kind=kind,
        manufacturer=maker,
        model=model,
        serial=f"{maker[0]}{chance.whole(10000, 99999)}",
        site=site,
        in_service_on=in_service_on,
        record_from_on=FIRST_ON if in_service_on < FIRST_ON else None,
    )


def _find(units: Sequence[Unit], site: str, kind: str, ordinal: int = 1) -> Unit:
    return [unit for unit in units if (unit.site, unit.kind) == (site, kind)][ordinal - 1]


def _put(units: list[Unit], changed: Unit) -> None:
    """Put a changed unit in the place of the one with its number."""
    place = next(n for n, u in enumerate(units) if u.property_number == changed.property_number)
    units[place] = changed


def _issued_as_told(units: list[Unit]) -> None:
    """Give an old, a retired and a new unit the dates that the story tells of them."""
    old = _find(units, "cuming", "microscope")
    _put(units, replace(old, in_service_on=dt.date(2015, 3, 9), record_from_on=FIRST_ON))
    retired = _find(units, "madison", "microscope", 2)
    _put(
        units,
        replace(
            retired,
            in_service_on=dt.date(2016, 8, 22),
            record_from_on=FIRST_ON,
            retired_on=dt.date(2026, 2, 27),
        ),
    )
    new = _unit(1000 + len(units), "franklin", "microscope")
    units.append(replace(new, in_service_on=dt.date(2026, 5, 11), record_from_on=None))


def _units() -> tuple[Unit, ...]:
    numbered = enumerate(_kinds_of_sites(), start=1000)
    units = [_unit(number, site, kind) for number, (site, kind) in numbered]
    for unit in units:
        if unit.site in _THERE_FROM_THE_START:
            early = min(unit.in_service_on, dt.date(2022, 4, 4))
            _put(units, replace(unit, in_service_on=early, record_from_on=FIRST_ON))
    _issued_as_told(units)
    return tuple(units)


UNITS = _units()


def unit_of(site: str, kind: str, ordinal: int = 1) -> Unit:
    """The first (second, ...) unit of a kind at a site."""
    return _find(UNITS, site, kind, ordinal)


def _number(site: str, kind: str, ordinal: int = 1) -> str:
    return unit_of(site, kind, ordinal).property_number


PLACEMENTS = (
    Placement(
        property_number=_number("hall", "centrifuge"), site="howard", from_on=dt.date(2026, 3, 16)
    ),
    Placement(
        property_number=_number("lincoln", "microscope", 2),
        site="mcpherson",
        from_on=dt.date(2025, 10, 6),
    ),
)

OUTAGES = (
    Outage(
        property_number=_number("buffalo", "microscope", 2),
        from_on=dt.date(2026, 5, 4),
        to_on=dt.date(2026, 6, 15),
        reason="lent to Kearney County Laboratory",
    ),
    Outage(
        property_number=_number("dodge", "centrifuge"),
        from_on=dt.date(2025, 2, 3),
        to_on=dt.date(2025, 3, 11),
        reason="motor replaced",
    ),
    Outage(
        property_number=_number("sarpy", "autoclave"),
        from_on=dt.date(2026, 10, 12),
        to_on=None,
        reason="door seal worn, waiting for the part",
    ),
)
