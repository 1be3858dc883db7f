"""Invented names for the demo. None of them is meant to be anyone or anywhere."""

from random import Random
from typing import Final

COMPANY: Final = "Rillmark Drainage (invented demo)"
TOWN: Final = "Sedgewater"
REGION: Final = "Invented County"
SOURCE: Final = "invented for the demo company"
AREAS: Final = ("North Rill", "Mill Bank", "Old Ford", "South Meadow", "Hill Side")
STREETS: Final = (
    "Sedge Lane", "Alder Bend", "Wren Hollow", "Teasel Way", "Marl Street", "Plover Rise", "Bracken Fold",
    "Fennel Steps", "Osier Close", "Rill Road", "Heron Walk", "Tansy Court", "Lapwing Row", "Peña Terrace",
)  # fmt: skip
FIRST: Final = (
    "Oda", "Bram", "Ilse", "Tomas", "Ruth", "Nils", "Greta", "Amos", "Lena", "Piet", "Vera", "Hugo", "Mina", "Joss",
    "Edda", "Karl", "Luz", "Rafael", "Anneke", "Silas",
)  # fmt: skip
LAST: Final = (
    "Quill", "Nettle", "Sluys", "Tannery", "Marsh", "Oakum", "Reed", "Fenwright", "Brook", "Larch", "Dyke", "Wharf",
    "Ashpole", "Gravel", "Pool", "Sandbed", "Ondine", "Weir", "Culvert", "Moss",
)  # fmt: skip
CREW: Final = (("ivo", "Ivo", "Spindle"), ("pell", "Pell", "Rushlight"), ("dara", "Dara", "Stonecrop"))
OFFICE: Final = ("office", "Mara", "Candlewick")


def person(rng: Random, number: int) -> tuple[str, str, str]:
    """(name, e-mail, phone) of an invented person; addresses end in .invalid and reach nobody."""
    first, last = rng.choice(FIRST), rng.choice(LAST)
    return f"{first} {last}", f"{first}.{last}{number}@home.invalid".lower(), f"555-01{number % 100:02d}"
