"""Does a form's row mean what a file's row would, and is it refused where that would be?"""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.domain.records import Closure, Role
from fleet.errors import BadInput
from fleet.files.form_rows import form_row


def test_a_row_is_read_by_the_columns_of_its_table() -> None:
    given = {"site": " alder ", "from": "2026-03-02", "reason": "Ice storm", "open": ""}
    on = dt.date(2026, 3, 2)
    assert form_row("closures", given) == Closure(
        site="alder", from_on=on, to_on=on, reason="Ice storm"
    )


@pytest.mark.parametrize(
    ("table", "given", "columns"),
    [
        ("closures", {"from": "2 March"}, ["from"]),
        ("closures", {"from": "2026-03-02", "to": "2026-03-01"}, ["to"]),
        ("patterns", {}, ["site", "from", "open_days"]),
        ("people", {"email": "a", "role": "king", "name": "x\u202ey"}, ["email", "name", "role"]),
        ("people", {"email": "a@b.example", "role": Role.SITE_LEAD, "name": "A"}, ["site"]),
    ],
)
def test_what_a_file_would_not_hold_is_refused_at_its_column(
    table: str, given: dict[str, str], columns: list[str]
) -> None:
    with pytest.raises(BadInput) as caught:
        form_row(table, given)
    assert [fault.column for fault in caught.value.faults] == columns
    assert all(fault.mend for fault in caught.value.faults)
