"""A closeout while it is being written: what is known of it so far, and what is to be told."""

from dataclasses import dataclass, field
from datetime import date, datetime

from core import clock
from core.act import Act
from maintenance.closeout_hold import raise_flag
from maintenance.closeout_parts import Yard
from maintenance.closeout_place import Place
from maintenance.decide import closeout_values as values
from maintenance.decide.closeout_meaning import CloseoutBody, ReadingTaken
from maintenance.decide.closeout_summary import PartTold, TaskTold
from maintenance.decide.closeout_values import ReadingValue
from maintenance.models import Closeout, CloseoutReceived, Visit


@dataclass(slots=True)
class Writing:
    """One closeout being written: what is known so far, and what is to be told."""

    act: Act
    received: CloseoutReceived
    body: CloseoutBody
    place: Place
    visit: Visit
    closeout: Closeout
    yard: Yard
    skew_s: float | None
    worked_on: date
    readings: dict[int, list[tuple[ReadingTaken, ReadingValue]]] = field(default_factory=dict)
    tasks_told: list[TaskTold] = field(default_factory=list)
    parts_told: list[PartTold] = field(default_factory=list)

    @property
    def by(self) -> str:
        """Who did the work, as readings name people."""
        return f"user:{self.place.technician.uid}"

    def flag(self, code: str, words: str, **sides: object) -> None:
        """Raise a flag on this closeout."""
        raise_flag(self.act, self.received, code, words, sides)

    def time(self, at: datetime) -> datetime:
        """A phone's time as it counts."""
        return values.corrected(at, self.skew_s, self.received.received_at).at

    def day(self, at: datetime) -> date:
        """The property's own date of an instant that counts."""
        return clock.local_date(at, self.place.property.zone)
