"""Which columns have the tables that say when mail may reach whom?"""

from __future__ import annotations

from collections.abc import Iterator

from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod
from fleet.files import cells
from fleet.files.table_shapes import FROM, WITHDRAWN_COLUMN, Column, RowFault, Table, name, short

__all__ = ["MAIL_TABLES"]

_UNTIL = Column("to", cells.civil_date, required=True, is_key=False, field="to_on")


def _span_faults(record: Absence | QuietPeriod) -> Iterator[RowFault]:
    if record.to_on < record.from_on:
        problem = f"{record.to_on} is before from {record.from_on}"
        yield RowFault("to", problem, "check both dates; both are included")
    if isinstance(record, Absence) and record.deputy == record.email:
        problem = "the deputy is the one who is away"
        yield RowFault("deputy", problem, "name somebody else, or leave it empty")


MAIL_TABLES = (
    Table(
        "absences",
        (
            Column("email", cells.email, required=True),
            FROM,
            _UNTIL,
            Column("deputy", cells.email),
            WITHDRAWN_COLUMN,
        ),
        Absence,
        _span_faults,
    ),
    Table(
        "quiet_periods",
        (
            Column("site", short),
            FROM,
            _UNTIL,
            Column("reason", name, required=True, is_key=False),
            WITHDRAWN_COLUMN,
        ),
        QuietPeriod,
        _span_faults,
    ),
    Table(
        "mail_settings",
        (
            Column("name", short, required=True),
            Column("value", short, required=True, is_key=False),
            WITHDRAWN_COLUMN,
        ),
        MailSetting,
    ),
)
