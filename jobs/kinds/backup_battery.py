"""Backup battery: runs a pump when the house has no current."""

from typing import Literal

from jobs.kinds.base import Dimensions, Kind, Symbol, ask, choice, number
from jobs.kinds.words import gettext_noop


class BackupBatteryDimensions(Dimensions):
    battery_type: Literal["lead_acid_flooded", "lead_acid_sealed", "lithium"] | None = choice(
        "Type",
        {
            "lead_acid_flooded": "lead-acid, filled with water",
            "lead_acid_sealed": "lead-acid, sealed",
            "lithium": "lithium",
        },
        assumed="lead_acid_sealed",
        help="From its label.",
    )
    nominal_volts_v: float | None = number("Voltage", "V", 6, 60, assumed=12, help="From its label.")
    capacity_ah: float | None = number("Capacity", "Ah", 1, 1000, assumed=75, help="From its label, when new.")


KIND = Kind(
    code="backup_battery",
    version=1,
    name="backup battery",
    plural="backup batteries",
    plain_words=gettext_noop("the battery that runs the pump in a power cut"),
    tag_prefix="BB",
    dimensions=BackupBatteryDimensions,
    symbol=Symbol("mark", letters="BB"),
    tasks=("test_battery", "replace"),
    readings=(
        ask("battery_volts", "test_battery"),
        ask("battery_load_volts", "test_battery"),
        ask("note", "test_battery", "replace"),
    ),
    checklist=(
        gettext_noop("Room aired, no flame or spark; eye protection and gloves worn"),
        gettext_noop("Pump run on the battery alone with the charger off"),
        gettext_noop("Terminals clean and tight, charger back on"),
    ),
    sits_in=frozenset({"sump_basin"}),
    wears=True,
)
