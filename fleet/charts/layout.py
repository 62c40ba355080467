"""How many pages does a chart take, and what finds its cells again?"""

from __future__ import annotations

from fleet.charts.geometry import LAYOUT, geometry_of, read_geometry
from fleet.services.charts.facts import YearChart
from fleet.services.charts.prints import Laid

__all__ = ["ChartLayout"]


class ChartLayout:
    """The layout of what is printed now (`fleet.services.charts.prints.Layout`)."""

    version = LAYOUT

    def laid(self, chart: YearChart) -> Laid:
        """Lay out a chart; ChartTooLong where it has more rows than a page holds."""
        geometry = geometry_of(chart)
        return Laid(read_geometry(geometry).pages, geometry)
