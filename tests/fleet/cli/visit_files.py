"""Which small state do the tests of `plan` and `visits` serve? Three sites, units due in April."""

from __future__ import annotations

from pathlib import Path

from tests.fleet.cli.conftest import FILES, Dueward

__all__ = ["PLAN_FILE", "SITES", "SPAN", "STEPS", "UNITS", "load_state"]

SITES = """\
site,name,county,region,country,subdivision,time_zone,open_days,latitude,longitude
alder,Alder Creek Laboratory,Adams,North,US,NE,America/Chicago,Mon Tue Wed Thu Fri,40.52,-98.50
birch,Birch Hill Laboratory,Boone,South,US,NE,America/Chicago,Mon Tue Wed Thu Fri,41.71,-98.07
cedar,Cedar Bluff Laboratory,Cheyenne,South,US,NE,America/Denver,Mon Tue Wed Thu Fri,41.22,-102.99
"""
UNITS = """\
property_number,kind,manufacturer,model,serial,site,in_service_on,record_from
A-1,microscope,Exemplar,M1,100,alder,2025-01-06,2026-02-23
A-2,microscope,Exemplar,M1,103,alder,2025-01-06,2026-02-23
B-1,microscope,Exemplar,M1,101,birch,2024-05-01,2026-02-23
C-1,microscope,Exemplar,M1,102,cedar,2024-05-01,2026-02-23
"""
ENTRIES = """\
property_number,task,on,to,mark,initials
A-1,annual-service,2025-04-03,,done,OV
A-2,annual-service,2025-04-03,,done,OV
B-1,annual-service,2025-04-10,,done,OV
C-1,annual-service,2025-04-14,,done,OV
"""
PEOPLE = """\
email,name,role,site,region
north@bench.example,Noor Northgate,consultant,,North
lead@alder.example,Lee Alderman,site lead,alder,
lead@cedar.example,Cleo Cedarman,site lead,cedar,
state@bench.example,Mo Manning,manager,,
"""
PLAN_FILE = """\
[[depot]]
name = "Lancaster depot"
latitude = 40.7837
longitude = -96.6875
time_zone = "America/Chicago"
[[technician]]
name = "Tatum Fenwald"
vendor = "Ovandel Service"
depot = "Lancaster depot"
email = "tatum@ovandel.example"
[[technician]]
name = "Robin Yarrowby"
vendor = "Ovandel Service"
depot = "Lancaster depot"
[money]
mile = 70
hour = 9500
trip = 15000
night = 14000
visit = 4000
change = 2500
"""
SPAN = ("--from", "2026-03-03", "--to", "2026-05-29")
STEPS = ("--iterations", "300")


def load_state(dueward: Dueward, folder: Path, **other: str) -> None:
    """Load the state, with other texts for some tables, and write plan.toml beside it."""
    book = FILES["rules.toml"].replace("grace = 15\n", "grace = 15\nvendor = true\nminutes = 45\n")
    texts = {
        "sites": SITES,
        "units": UNITS,
        "entries": ENTRIES,
        "people": PEOPLE,
        "rules": book,
        **other,
    }
    (folder / "state").mkdir()
    for name, text in texts.items():
        ending = "toml" if name == "rules" else "csv"
        (folder / "state" / f"{name}.{ending}").write_text(text, encoding="utf-8")
    loaded = dueward("load", str(folder / "state"))
    assert loaded.exit_code == 0, loaded.stderr
    (folder / "plan.toml").write_text(PLAN_FILE, encoding="utf-8")
