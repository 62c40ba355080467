"""Which charts were printed, and when?

Those of 2026 in December before, and those of a unit that came in that year on its first day. Some
were forgotten: the charts of NOT_PRINTED, and that of a unit at the site it moved to in March.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

from demo_data.scenario.instruments import UNITS, unit_of
from fleet.charts.layout import ChartLayout
from fleet.domain.prints import Print
from fleet.domain.records import Outage, Placement, RegisterRecord, Unit
from fleet.domain.register import Change
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.charts.prints import prints_of
from fleet.services.charts.years import ChartQuestion, year_charts
from fleet.services.ports import Stamp
from fleet.storage import create, open_store

__all__ = ["NOT_PRINTED", "prints"]

YEAR = 2026
PRINTED_ON = dt.date(2025, 12, 8)
NOT_PRINTED = (("boyd", "microscope"), ("dawson", "refrigerator"))
"""No chart of 2026 was printed for these units; they have one of 2025."""
_DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def prints(register: Sequence[RegisterRecord]) -> list[Print]:
    """Every print, by year and property number; register: sites, calendars and units."""
    forgotten = [unit_of(site, kind).property_number for site, kind in NOT_PRINTED]
    came = {unit.property_number: unit.in_service_on for unit in UNITS}
    usual = [n for n, on in came.items() if on <= PRINTED_ON and n not in forgotten]
    found = [
        *_printed(register, PRINTED_ON.replace(year=YEAR - 2), YEAR - 1, forgotten),
        *_printed(register, PRINTED_ON, YEAR, usual),
    ]
    for number, on in came.items():
        if on > PRINTED_ON:
            found += _printed(register, on, YEAR, [number])
    return sorted(found, key=lambda one: (one.year, one.property_number, one.site))


def _printed(
    register: Sequence[RegisterRecord], on: dt.date, year: int, numbers: Sequence[str]
) -> Iterator[Print]:
    """The charts of a year of some units, as what was known on a day has them."""
    morning = dt.datetime.combine(on, dt.time(15), dt.UTC)
    stamp = Stamp(at=morning, by="demo", source="file")
    known = [Change(old=None, new=one, initial=True) for one in register if _since(one) <= on]
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'register.db'}"
        create(url)
        with (
            closing(open_store(url, clock=lambda: morning)) as store,
            store.begin(write=True) as record,
        ):
            record.change(known, stamp)
            asked = ChartQuestion(year=year, now=morning, numbers=tuple(numbers))
            answer = year_charts(record, PublicHolidayCalendar(), asked)
    drawn = _numbers(str(on))
    for one in prints_of(
        answer.charts, (), ChartLayout(), lambda: next(drawn), "letter", None, morning
    ):
        yield one.print


def _since(one: RegisterRecord) -> dt.date:
    """The day a record of the story speaks of, and was made known on; others always were."""
    if isinstance(one, Unit):
        return one.in_service_on
    return one.from_on if isinstance(one, Placement | Outage) else dt.date.min


def _numbers(name: str) -> Iterator[str]:
    """Numbers of prints without end, the same for the same name."""
    turn = 0
    while True:
        digest = hashlib.sha256(f"{name}/{turn}".encode()).digest()
        yield "".join(_DIGITS[byte % len(_DIGITS)] for byte in digest[:8])
        turn += 1
