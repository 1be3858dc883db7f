"""The company's settings, typed: each version is kept; the one recorded last before an instant governs it."""

from datetime import datetime, time
from functools import cache
from typing import Annotated, Literal
from zoneinfo import available_timezones

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from core import clock
from core.act import Act
from core.history import record_change
from core.models import CompanySettings
from core.problem import BadInput, FieldProblem

Month = Annotated[int, Field(ge=1, le=12)]
Share = Annotated[float, Field(gt=0, lt=1)]


@cache
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def _known_zone(name: str) -> str:
    if name not in _zones():
        raise ValueError(f"{name[:40]!r} is no time zone: give an IANA name such as America/New_York")
    return name


def _wall_time(value: time) -> time:
    if value.tzinfo is not None:
        raise ValueError("give a time of the wall clock, without an offset")
    return value


WallTime = Annotated[time, AfterValidator(_wall_time)]


class Company(BaseModel):
    """Every setting with its default. Assumptions are marked as such in docs/methods.md."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: str = "Your drainage company"
    postal_address: str = ""
    phone: str = ""
    reply_to: str = ""
    zone: Annotated[str, AfterValidator(_known_zone)] = "America/New_York"
    units: Literal["us", "metric"] = "us"
    yard_lat: float | None = Field(default=None, ge=-90, le=90)
    yard_lon: float | None = Field(default=None, ge=-180, le=180)
    climate_mm: list[Annotated[float, Field(ge=0, le=1500)]] = Field(default=[80.0] * 12, min_length=12, max_length=12)
    leaf_months: list[Month] = [10, 11, 12]
    wet_season_month: Month | None = 11
    freezes: bool = False
    freeze_month: Month = 12
    thaw_month: Month = 3
    gauge: str = ""
    tolerance_building: Share = 0.05
    tolerance_outdoor_room: Share = 0.20
    tolerance_lawn: Share = 0.30
    hidden_unavailability: Share = 0.05
    cycle_sd: float = Field(default=0.2, ge=0, le=2)
    weather_cv: float = Field(default=0.17, ge=0, le=1)
    basin_limit_fill: float = Field(default=0.5, ge=0.125, le=1)
    first_look_days: int = Field(default=90, ge=14, le=400)
    wide_ratio: float = Field(default=3.0, ge=1, le=100)
    lead_days: int = Field(default=14, ge=0, le=90)
    pool_least_parts: int = Field(default=8, ge=5, le=1000)
    pool_least_readings: int = Field(default=20, ge=10, le=10_000)
    odd_times: float = Field(default=10.0, ge=2, le=1000)
    wear_calendar: float = Field(default=0.5, ge=0.05, le=1)
    wear_hours: float = Field(default=0.25, ge=0, le=1)
    wear_starts: float = Field(default=0.25, ge=0, le=1)
    wear_hours_per_year: float = Field(default=200.0, ge=1, le=8766)
    wear_starts_per_year: float = Field(default=6000.0, ge=1, le=1_000_000)
    send_time: WallTime = time(9, 0)
    quiet_from: WallTime = time(20, 0)
    quiet_until: WallTime = time(8, 0)
    answer_days: int = Field(default=5, ge=1, le=60)
    day_start: WallTime = time(8, 0)
    setup_minutes: int = Field(default=20, ge=0, le=240)
    propose_days: int = Field(default=60, ge=7, le=400)
    utility_locate_phone: str = "811"


def at(instant: datetime) -> Company:
    """Settings in force at `instant`: the newest recorded at or before it, defaults if none was."""
    row = CompanySettings.objects.filter(recorded_at__lte=instant).order_by("-recorded_at", "-id").first()
    return Company.model_validate(row.values) if row else Company()


def current() -> Company:
    """Settings in force now."""
    return at(clock.now())


def change(*, act: Act, **values: object) -> Company:
    """Record a new version with `values` changed. Raises BadInput naming each bad setting."""
    before = at(act.at)
    try:
        after = Company.model_validate({**before.model_dump(mode="json"), **values})
    except ValidationError as error:
        fields = tuple(
            FieldProblem(".".join(str(p) for p in e["loc"]), e["msg"], e.get("input")) for e in error.errors()
        )
        raise BadInput("Some settings were not taken.", fields=fields) from error
    row = CompanySettings.objects.create(recorded_at=act.at, recorded_by=act.who, values=after.model_dump(mode="json"))
    record_change(
        act=act,
        noun="settings",
        uid=_SETTINGS_UID,
        action="change",
        before=before.model_dump(mode="json"),
        after=row.values,
    )
    return after


_SETTINGS_UID = "00000000-0000-4000-8000-00000000c0de"
