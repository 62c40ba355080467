"""Which country and subdivision is meant, and is it one the `holidays` library knows?

The library takes 'NE' and 'Nebraska' but not 'ne', 'NE ' or 'US-NE': spelling is settled here.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from fleet.domain.texts import shown
from fleet.files.cells import CellError, nearest

if TYPE_CHECKING:
    from holidays import HolidayBase

__all__ = ["country_code", "subdivision_code"]


@cache
def _countries() -> dict[str, str]:
    """Class name of a country by its two-letter code, three-letter code and name, in capitals."""
    from holidays.registry import COUNTRIES

    return {
        word.upper(): names[0]
        for names in COUNTRIES.values()
        for word in (names[0], names[1], names[2])
    }


def _country_class(name: str) -> type[HolidayBase]:
    """The library's class of a country."""
    import holidays.countries

    found: type[HolidayBase] = getattr(holidays.countries, name)
    return found


@cache
def country_code(value: str) -> str:
    """Read a country; the answer is its ISO 3166 code of two letters."""
    name = _countries().get("".join(value.split()).upper())
    if name is None:
        raise CellError(
            f"no holidays are known for country {shown(value)}",
            "write the ISO 3166 code, as US",
        )
    return str(_country_class(name).country)


@cache
def subdivision_code(country: str, value: str) -> str:
    """Read a subdivision of a country given by its code; the answer is the library's code of it."""
    known = _country_class(_countries()[country])
    word = value.upper().removeprefix(country + "-")
    codes = {code.upper(): code for code in known.subdivisions}
    aliases = {alias.upper(): code for alias, code in known.subdivisions_aliases.items()}
    code = codes.get(word) or aliases.get(word)
    if code is None:
        raise CellError(
            f"{shown(value)} is no subdivision of {country}",
            nearest(word, codes) if codes else "leave it empty",
        )
    return str(code)
