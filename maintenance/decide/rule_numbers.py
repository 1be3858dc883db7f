"""The numbers a rule carries, by its basis: checked here, computed with in maintenance.forecast."""

from collections.abc import Mapping
from typing import Any, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from maintenance.forecast import records


class RuleNumbersError(ValueError):
    """Numbers were refused. `problems` holds (field, message) for every problem."""

    def __init__(self, problems: list[tuple[str, str]]) -> None:
        self.problems = tuple(problems)
        super().__init__(" ".join(f"{name}: {message}" for name, message in problems))


class _Numbers(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class CalendarNumbers(_Numbers):
    """Every so many months."""

    every_months: float = Field(ge=0.25, le=240, title="Every", json_schema_extra={"x-unit": "months"})
    early_days: int | None = Field(
        default=None, ge=0, le=365, title="Useful before the latest day by", json_schema_extra={"x-unit": "days"}
    )


class SeasonNumbers(_Numbers):
    """Once a year around an anchor day; negative days lie before it."""

    anchor: Literal["wet_season", "leaf_fall", "freeze", "thaw", "date"] = Field(title="Around")
    opens_days: int = Field(ge=-180, le=180, title="Opens", json_schema_extra={"x-unit": "days after"})
    closes_days: int = Field(ge=-180, le=180, title="Closes", json_schema_extra={"x-unit": "days after"})
    month: int = Field(default=1, ge=1, le=12, title="Month of the date")
    day: int = Field(default=1, ge=1, le=28, title="Day of the date")
    grace_days: int = Field(
        default=60, ge=0, le=180, title="Still due after closing for", json_schema_extra={"x-unit": "days"}
    )

    @model_validator(mode="after")
    def _opens_before_it_closes(self) -> Self:
        if self.closes_days <= self.opens_days:
            raise ValueError(
                f"closes_days is {self.closes_days} days: give more than opens_days, {self.opens_days} days"
            )
        if self.anchor != "date" and {"month", "day"} & self.model_fields_set:
            raise ValueError(f"month and day belong to the anchor 'date', not to {self.anchor!r}: leave them out")
        return self


class SiltNumbers(_Numbers):
    """Practice limit as fill; the clear depth to the invert is asked only where there is room for it."""

    limit_fill: float = Field(ge=0.125, le=1, title="Clean at", json_schema_extra={"x-unit": "fill"})
    clear_to_invert_in: float | None = Field(
        default=None, gt=0, le=48, title="Clear below the outlet", json_schema_extra={"x-unit": "in"}
    )


class WearNumbers(_Numbers):
    """Weibull life: a test interval from the accepted unavailability, or the age of least cost."""

    purpose: Literal["test", "replace"] = Field(title="For")
    median_life_years: float = Field(ge=0.25, le=100, title="Median life", json_schema_extra={"x-unit": "years"})
    shape: float = Field(ge=0.5, le=10, title="Weibull shape")
    unavailability: float | None = Field(
        default=None, ge=0.001, le=0.5, title="Accepted share of time failed unseen", json_schema_extra={"x-unit": ""}
    )
    cost_ratio: float = Field(default=5.0, gt=1, le=1000, title="A failure costs so many planned replacements")

    @model_validator(mode="after")
    def _only_what_the_purpose_uses(self) -> Self:
        if self.purpose == "replace" and self.unavailability is not None:
            raise ValueError("unavailability belongs to purpose 'test': leave it out for 'replace'")
        if self.purpose == "test" and "cost_ratio" in self.model_fields_set:
            raise ValueError("cost_ratio belongs to purpose 'replace': leave it out for 'test'")
        return self


class StormNumbers(_Numbers):
    """A look after a storm."""

    within_days: int = Field(default=7, ge=0, le=60, title="Within", json_schema_extra={"x-unit": "days"})
    closed_within_days: int = Field(
        default=30, ge=0, le=180, title="Closed by any visit within", json_schema_extra={"x-unit": "days"}
    )
    least_share: float = Field(
        default=0.5, ge=0, le=5, title="Least storm", json_schema_extra={"x-unit": "share of today's rating"}
    )
    least_daily_rain_mm: float = Field(
        default=25.4, gt=0, le=500, title="Least rain in a day", json_schema_extra={"x-unit": "mm"}
    )


MODELS: Final[Mapping[str, type[_Numbers]]] = {
    "calendar": CalendarNumbers,
    "season": SeasonNumbers,
    "silt": SiltNumbers,
    "wear": WearNumbers,
    "storm": StormNumbers,
}
"""Basis -> model of its numbers: field names are those of the frozen records in maintenance.forecast.records."""


def clean_numbers(basis: str, numbers: Mapping[str, Any]) -> dict[str, Any]:
    """Check the numbers of one rule and return them as stored: what was given, nothing filled in.

    Raises RuleNumbersError, each problem naming the field, the value and what to give.
    """
    if basis not in MODELS:
        raise RuleNumbersError([("basis", f"is {basis!r}: give one of {', '.join(MODELS)}")])
    given = {name: value for name, value in numbers.items() if value is not None}
    try:
        return MODELS[basis].model_validate(given).model_dump(exclude_unset=True)
    except ValidationError as error:
        raise RuleNumbersError([_told(item) for item in error.errors(include_url=False)]) from None


def forecast_numbers(basis: str, numbers: Mapping[str, Any]) -> records.RuleNumbers:
    """The same numbers as the frozen record the forecast computes with. Raises RuleNumbersError."""
    made: records.RuleNumbers = records.NUMBERS[basis](**clean_numbers(basis, numbers))
    return made


def _told(item: Any) -> tuple[str, str]:
    """One pydantic error as (field, what is wrong and what to give)."""
    name = str(item["loc"][0]) if item["loc"] else "numbers"
    if item["type"] == "missing":
        return name, "is missing: give it"
    if item["type"] == "extra_forbidden":
        return name, "is not a number of this basis: remove it"
    message = str(item["msg"]).removeprefix("Value error, ")
    return name, message if not item["loc"] else f"is {item['input']!r}: {message[0].lower()}{message[1:]}"
