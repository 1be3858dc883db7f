"""The codes people choose from when they plan, do and report work, with the words shown for each.

Codes are stored; words are shown. A code is never reused for another meaning.
"""

from dataclasses import dataclass
from typing import Final, Literal


def gettext_noop(text: str) -> str:
    """Mark `text` for translation without translating it here: this package knows no framework."""
    return text


Certainty = Literal["measured", "assumed"]
CERTAINTIES: Final[dict[str, str]] = {
    "measured": gettext_noop("measured on site"),
    "assumed": gettext_noop("assumed, not measured"),
}


@dataclass(frozen=True)
class Task:
    """A thing to do to a component: `words` for the office and the crew, `plain_words` for the homeowner.

    `also_done_by`: tasks that, once done, count as this one too.
    """

    code: str
    words: str
    plain_words: str
    also_done_by: tuple[str, ...] = ()


TASKS: Final[dict[str, Task]] = {
    task.code: task
    for task in (
        Task("clean", gettext_noop("clean"), gettext_noop("cleaning"), ("replace",)),
        Task(
            "look",
            gettext_noop("look, clean if over half the threshold"),
            gettext_noop("a look inside"),
            ("clean", "replace"),
        ),
        Task("flush", gettext_noop("flush"), gettext_noop("rinsing the pipe through"), ("clean", "replace")),
        Task("test_pump", gettext_noop("test pump"), gettext_noop("a pump-down test"), ("replace",)),
        Task("test_float", gettext_noop("test float"), gettext_noop("a test of the float switch"), ("replace",)),
        Task("test_valve", gettext_noop("test check valve"), gettext_noop("a test of the one-way valve"), ("replace",)),
        Task("test_battery", gettext_noop("test battery"), gettext_noop("a test of the backup battery"), ("replace",)),
        Task("test_alarm", gettext_noop("test alarm"), gettext_noop("a test of the high-water alarm"), ("replace",)),
        Task("replace", gettext_noop("replace"), gettext_noop("a replacement")),
        Task("clear_grate", gettext_noop("clear grate"), gettext_noop("clearing leaves off the grate"), ("replace",)),
        Task(
            "clear_outfall",
            gettext_noop("clear outfall"),
            gettext_noop("keeping the water's way out clear"),
            ("replace",),
        ),
        Task("pour_bucket", gettext_noop("pour a bucket"), gettext_noop("pouring a bucket of water in")),
        Task("drain_for_frost", gettext_noop("drain for frost"), gettext_noop("emptying the line before frost")),
        Task("restart", gettext_noop("restart after frost"), gettext_noop("restarting the line in spring")),
    )
}


@dataclass(frozen=True)
class Grade:
    """A fill or a blocked share judged by eye: `low` <= share < `high`; `high` None means no upper end."""

    code: str
    words: str
    low: float
    high: float | None


GRADES: Final[dict[str, Grade]] = {
    grade.code: grade
    for grade in (
        Grade("clean", gettext_noop("clean"), 0.0, 1 / 8),
        Grade("quarter", gettext_noop("a quarter full"), 1 / 8, 3 / 8),
        Grade("half", gettext_noop("half full"), 3 / 8, 5 / 8),
        Grade("three_quarters", gettext_noop("three quarters full"), 5 / 8, 7 / 8),
        Grade("full", gettext_noop("full"), 7 / 8, 1.0),
        Grade("overflowing", gettext_noop("overflowing"), 1.0, None),
    )
}

OUTCOMES: Final[dict[str, str]] = {
    "done": gettext_noop("done"),
    "found_fine": gettext_noop("found fine, nothing needed"),
    "not_looked_at": gettext_noop("not looked at"),
    "could_not": gettext_noop("could not be done"),
    "declined": gettext_noop("declined by the customer"),
}

COULD_NOT_REASONS: Final[dict[str, str]] = {
    "no_access": gettext_noop("no access: gate, lock or nobody home"),
    "not_found": gettext_noop("part not found or buried"),
    "unsafe": gettext_noop("not safe: say why in the note"),
    "under_water": gettext_noop("under water"),
    "stuck": gettext_noop("lid, grate or part stuck"),
    "no_power": gettext_noop("no power"),
    "no_part": gettext_noop("part or tool not on the truck"),
    "weather": gettext_noop("weather"),
    "animal": gettext_noop("dog or other animal loose"),
    "licensed_work": gettext_noop("needs a licensed electrician or plumber"),
    "no_time": gettext_noop("ran out of time"),
    "other": gettext_noop("something else: say what in the note"),
}

ReadingType = Literal["number", "grade", "yes_no", "text"]


@dataclass(frozen=True)
class Reading:
    """One value a closeout may report. `low` and `high` are limits in `unit`; both None for what is not a number."""

    code: str
    words: str
    type: ReadingType
    unit: str = ""
    low: float | None = None
    high: float | None = None


READINGS: Final[dict[str, Reading]] = {
    reading.code: reading
    for reading in (
        Reading("silt_depth_in", gettext_noop("Silt depth found, before cleaning"), "number", "in", 0, 120),
        Reading("silt_left_in", gettext_noop("Silt left behind"), "number", "in", 0, 120),
        Reading("grade", gettext_noop("Judged by eye, before cleaning"), "grade"),
        Reading("drawdown_drop_in", gettext_noop("Pump-down test: drop of the water"), "number", "in", 0.25, 120),
        Reading("drawdown_seconds", gettext_noop("Pump-down test: seconds"), "number", "s", 0.5, 3600),
        Reading("inflow_rise_in", gettext_noop("Pump off: rise of the water"), "number", "in", 0, 120),
        Reading("inflow_seconds", gettext_noop("Pump off: seconds of that rise"), "number", "s", 0.5, 3600),
        Reading("amps", gettext_noop("Pump current while pumping"), "number", "A", 0, 60),
        Reading("starts_counted", gettext_noop("Starts on the counter, if fitted"), "number", "starts", 0, 10_000_000),
        Reading("run_hours_counted", gettext_noop("Hours on the counter, if fitted"), "number", "h", 0, 200_000),
        Reading("fall_back_in", gettext_noop("Rise in the basin after the pump stops"), "number", "in", 0, 60),
        Reading("battery_volts", gettext_noop("Battery at rest"), "number", "V", 0, 60),
        Reading("battery_load_volts", gettext_noop("Battery while the pump runs on it"), "number", "V", 0, 60),
        Reading("alarm_sounded", gettext_noop("Alarm sounded when the float was lifted"), "yes_no"),
        Reading("switched", gettext_noop("Switched on and off as the water moved"), "yes_no"),
        Reading("flow_seen", gettext_noop("Water seen coming out at the end"), "yes_no"),
        Reading("standing_seconds", gettext_noop("A bucket stands on the gravel for"), "number", "s", 0, 3600),
        Reading("note", gettext_noop("Note"), "text"),
    )
}

OWNER_SAFETY: Final = gettext_noop(
    "Adults only, in daylight; never during a storm, flood or lightning; never reach under a grate or into a sump."
)
"""Said with every task asked of a homeowner."""

# Required with every closeout, whatever was done: open grates and lids hurt children first.
LIDS_BACK: Final = gettext_noop("Lids and grates back in place and fastened")
