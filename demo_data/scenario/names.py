"""What are the invented people, makers and places called? Tables only; none of them exists."""

from __future__ import annotations

__all__ = [
    "AGENCY_DOMAIN",
    "GIVEN_NAMES",
    "LABORATORY_DOMAIN",
    "LARGE_COUNTIES",
    "MAKERS",
    "REGIONS",
    "SURNAMES",
    "VENDOR_DOMAIN",
]

AGENCY_DOMAIN = "bench-agency.example"
LABORATORY_DOMAIN = "county-labs.example"
VENDOR_DOMAIN = "ovandel-service.example"

REGIONS = (
    "Panhandle",
    "Sandhills",
    "Republican Valley",
    "Platte Valley",
    "Elkhorn Valley",
    "Blue Valley",
)

GIVEN_NAMES = (
    "Avery", "Blair", "Casey", "Devon", "Ellis", "Frances", "Glenn", "Harper", "Imani", "Jordan",
    "Kerry", "Leslie", "Morgan", "Noor", "Oakley", "Parker", "Quinn", "Robin", "Sage", "Tatum",
    "Marisol", "Ximena", "Joaquín",
)  # fmt: skip

SURNAMES = (
    "Alderwick", "Brinkhaven", "Corbeth", "Dunmarrow", "Elmsworthy", "Fenwald", "Garrowby",
    "Hollisper", "Inglemoor", "Jarrowick", "Kestrelby", "Larkmoor", "Mossgrave", "Netherlin",
    "Oakhallow", "Pellbrook", "Quillmere", "Rowanthal", "Stonewick", "Thistledon", "Umberley",
    "Vexmoor", "Wrenfield", "Yarrowby", "Zellmark",
)  # fmt: skip

# kind -> maker and model names, all invented; some are models the shipped rule book speaks of
MAKERS: dict[str, tuple[tuple[str, str], ...]] = {
    "microscope": (
        ("Brellmont", "Hillside 2"),
        ("Brellmont", "Hillside 3"),
        ("Quarrix", "Field 40"),
    ),
    "centrifuge": (("Tessory", "Spin 12"), ("Havlune", "H24")),
    "refrigerator": (("Norvask", "Cool 300"), ("Havlune", "R-9")),
    "freezer": (("Norvask", "Frost 200"),),
    "thermometer": (("Quarrix", "T1"), ("Ollinder", "Probe")),
    "pipette": (("Ollinder", "Drop 200"), ("Ollinder", "Drop 1000"), ("Ollinder", "Octave 8")),
    "balance": (("Tessory", "Gram 3"),),
    "autoclave": (("Vandrell", "Steam 40"),),
    "incubator": (("Havlune", "Warm 60"),),
    "biosafety-cabinet": (("Vandrell", "Class II-A"),),
    "eyewash": (("Brellmont", "Twin Jet"),),
    "fire-extinguisher": (("Ovandel", "Drypoint 5"), ("Ovandel", "Drypoint 10")),
}

# Counties whose laboratory has more than two instruments: common practice, no source.
LARGE_COUNTIES = (
    "Adams", "Buffalo", "Cass", "Dawson", "Dodge", "Douglas", "Gage", "Hall", "Lancaster",
    "Lincoln", "Madison", "Platte", "Sarpy", "Saunders", "Scotts Bluff", "Washington",
)  # fmt: skip
