"""From a state's files to rows: do the commands agree with the rules walked day by day?"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import tempfile
from pathlib import Path
from typing import Any

from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings

from fleet.cli.main import main
from tests import reference
from tests.reference.files import write_folder
from tests.strategies import Case, cases


def rows_of(command: list[str], *, may_fail: bool = False) -> list[dict[str, Any]]:
    """What a command answers as JSON; words on stderr are apart."""
    result = CliRunner().invoke(main, [*command, "--format", "json"])
    assert result.exit_code == 0 or (may_fail and result.exit_code == 1), result.output
    rows: list[dict[str, Any]] = json.loads(result.stdout)
    return rows


def as_json(row: Any) -> dict[str, Any]:
    return {
        name: value.isoformat() if isinstance(value, dt.date) else value
        for name, value in dataclasses.asdict(row).items()
    }


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_loaded_files_give_the_rows_and_gaps_of_the_reference(case: Case) -> None:
    from_on, to_on = sorted([case.gaps_from, case.gaps_to])
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_folder(case.fleet, folder / "files")
        database = ["--database", f"sqlite:///{folder / 'fleet.db'}"]
        rows_of(["load", str(folder / "files"), *database])

        expected = reference.status(case.fleet, case.on)
        rows = rows_of(["due", "--on", str(case.on), *database], may_fail=bool(expected.errors))
        gaps = rows_of(
            [
                *("gaps", "--from", str(from_on), "--to", str(to_on)),
                *("--on", str(case.on), "--finding", "gap", *database),
            ]
        )

    keys = ("site", "property_number", "task")
    assert sorted(rows, key=lambda row: [row[key] for key in keys]) == sorted(
        (as_json(row) for row in expected.rows), key=lambda row: [row[key] for key in keys]
    )
    expected_gaps = reference.gaps(case.fleet, from_on, to_on, case.on)
    names = ("property_number", "task", "period_from", "period_to", "opens", "closes")
    assert sorted(tuple(gap[name] for name in names) for gap in gaps) == sorted(
        tuple(str(value) for value in gap) for gap in expected_gaps
    )
