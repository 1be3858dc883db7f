"""As-of honesty: what was recorded later does not change a byte of an earlier day's result."""

import io
import json
from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.management import CommandError, call_command

from core import company
from jobs import change_component, register
from jobs.edits import raise_revision
from maintenance import rain, refresh, rules
from maintenance.models import DueWindow, PropertyForecast, Reading, Rule
from tests.factories import LearnedLifeFactory, LearnedRateFactory, PumpLoadFactory
from tests.maintenance.refresh.yards import AT, EARLY, TODAY, act, cleaned, drawdown, found, set_up, yard

pytestmark = pytest.mark.django_db

DAY = date(2025, 9, 15)
LATER = datetime(2025, 9, 18, 12, 0, tzinfo=UTC)


def said(*, as_of: date = DAY, days: int = 400, json_too: bool = True) -> str:
    out = io.StringIO()
    call_command(
        "due", "--as-of", as_of.isoformat(), "--days", str(days), *(["--json"] if json_too else []), stdout=out
    )
    return out.getvalue()


def rain_file(first: date, days: int, mm: float) -> bytes:
    rows = [f"{first + timedelta(days=n)},{mm if n % 3 == 0 else 0}" for n in range(days)]
    return ("date,rain\n" + "\n".join(rows)).encode()


def import_rain(first: date, days: int, mm: float, at: datetime) -> None:
    rain.import_file(act=act(at), data=rain_file(first, days, mm), gauge_name="Yard gauge", unit="mm", apply=True)


@pytest.fixture
def basin():
    set_up()
    import_rain(date(2024, 1, 1), 500, 9.0, EARLY + timedelta(days=1100))
    made, _, pump = yard()
    drawdown(pump, pump.installed_on + timedelta(days=5), 12.0)
    cleaned(made, DAY - timedelta(days=200), left=0.05)
    found(made, DAY - timedelta(days=100), 2.0)
    found(made, DAY - timedelta(days=20), 2.5)
    return made


def another_gauge() -> None:
    """The company changes to a wet gauge whose record goes far back."""
    company.change(act=act(LATER), gauge="Another")
    data = rain_file(date(2024, 1, 1), 840, 90.0)
    rain.import_file(act=act(AT - timedelta(days=1)), data=data, gauge_name="Another", unit="mm", apply=True)


def governing(basin) -> str:
    """The rule that governs the basin's cleaning now: the only one whose change is sure to be seen."""
    (computed,) = refresh.compute(as_of=TODAY, property_ids=[basin.property_id]).properties
    return next(
        row["rule_code"] for row in computed.windows if (row["component_id"], row["task"]) == (basin.pk, "clean")
    )


def learned_later(pump) -> dict[str, object]:
    """What was learned or came to be known of wear after DAY."""
    return {
        "a night's pooling": lambda: LearnedRateFactory(group="catch_basin/some", mu=1.5, recorded_at=LATER),
        "a fitted life": lambda: LearnedLifeFactory(kind="pump", learned=True, scale_years=4.0, recorded_at=LATER),
        "rain pumped": lambda: PumpLoadFactory(component=pump, hours_per_year=2000.0, recorded_at=LATER),
        "a pump-down test": lambda: drawdown(pump, DAY - timedelta(days=10), 30.0, recorded=LATER),
    }


def later_rows(basin) -> dict[str, object]:
    """One change of each kind, all recorded after DAY; measured or fallen before it where that is possible."""
    silt = Rule.objects.get(code=governing(basin))
    return learned_later(basin.property.components.get(kind="pump")) | {
        "a reading measured before": lambda: found(basin, DAY - timedelta(days=50), 5.9, recorded=LATER),
        "a cleaning done before": lambda: (
            cleaned(basin, DAY - timedelta(days=5))
            .__class__.objects.filter(done_on=DAY - timedelta(days=5))
            .update(recorded_at=LATER)
        ),
        "a withdrawal": lambda: Reading.objects.create(
            component=basin,
            code="silt_depth_in",
            measured_at=LATER,
            recorded_at=LATER,
            measured_by="user:x",
            entered_by="user:x",
            withdraws=Reading.objects.filter(code="silt_depth_in").order_by("id").first(),
        ),
        "rain that fell before": lambda: import_rain(date(2025, 5, 15), 120, 60.0, LATER),
        "a corrected rain row": lambda: import_rain(date(2024, 1, 1), 500, 1.0, LATER),
        "another gauge": another_gauge,
        "a changed rule": lambda: rules.change_rule(act=act(LATER), rule=silt, numbers={"limit_fill": 0.2}),
        "a rule switched off": lambda: rules.switch_off(act=act(LATER), rule=silt),
        "a rule of the company's own": lambda: rules.add_rule(
            act=act(LATER),
            kind="catch_basin",
            task="clean",
            basis="calendar",
            standing="firm",
            numbers={"every_months": 1},
            minutes=10,
            words_office="clean every month",
            words_homeowner="We clean this every month.",
            source="assumption",
        ),
        "an override": lambda: rules.override_rule(
            act=act(LATER), rule=silt, property=basin.property, component=basin, off=True
        ),
        "settings": lambda: company.change(
            act=act(LATER), tolerance_building=0.5, climate_mm=[10.0] * 12, freezes=True
        ),
        "a changed dimension": lambda: change_component.change_component(
            act=act(LATER),
            component=basin,
            revision=basin.revision,
            dimensions={"invert_above_bottom_in": 30.0, "depth_in": 40.0},
            tag="CB-99",
        ),
        "a new part": lambda: change_component.add_component(
            act=act(LATER), property=basin.property, kind="pump", tag="PU-9", installed_on=date(2020, 1, 1)
        ),
        "heavier trees": lambda: register.change_property(
            act=act(LATER), property=basin.property, revision=basin.property.revision, canopy="heavy"
        ),
    }


KINDS = (
    "a reading measured before",
    "a cleaning done before",
    "a withdrawal",
    "rain that fell before",
    "a corrected rain row",
    "another gauge",
    "a changed rule",
    "a rule switched off",
    "a rule of the company's own",
    "an override",
    "settings",
    "a changed dimension",
    "a new part",
    "a night's pooling",
    "a fitted life",
    "rain pumped",
    "a pump-down test",
    "heavier trees",
)


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_recorded_later_changes_no_byte_of_the_earlier_result_but_does_of_the_later_one(
    basin, kind: str
) -> None:
    before, now = said(), said(as_of=TODAY)
    changes = later_rows(basin)
    assert set(changes) == set(KINDS)
    changes[kind]()
    assert said() == before
    assert said(as_of=TODAY) != now, "the change does not reach the present result: the check above proves nothing"


def test_the_end_of_the_day_is_the_companys(basin) -> None:
    # New York on 15 September 2025 is at UTC-4: the day ends at 04:00 UTC on the 16th.
    before = said()
    found(basin, DAY, 5.0, recorded=datetime(2025, 9, 16, 4, 0, tzinfo=UTC))
    assert said() == before
    found(basin, DAY, 5.0, recorded=datetime(2025, 9, 16, 3, 59, tzinfo=UTC))
    assert said() != before


def test_as_of_writes_nothing(basin) -> None:
    said()
    assert DueWindow.objects.count() == PropertyForecast.objects.count() == 0


def test_as_of_today_is_what_is_stored(basin) -> None:
    refresh.refresh_all(act=act())
    raise_revision(basin.property_id)
    refresh.refresh_all(act=act(AT + timedelta(hours=3)))
    (computed,) = refresh.compute(as_of=TODAY).properties
    stored = DueWindow.objects.order_by("best_on", "latest_on", "component_id", "task").values()
    assert len(computed.windows) == len(stored)
    for wanted, row in zip(computed.windows, stored, strict=True):
        assert {name: row[name] for name in wanted} == {
            name: pytest.approx(value, rel=1e-12) if isinstance(value, float) else value
            for name, value in wanted.items()
        }


def test_the_table_and_its_reasons(basin) -> None:
    text = said(json_too=False)
    assert "CA-1 catch basin" in text
    assert "not a guarantee" in text
    told = json.loads(said())
    assert told["as_of"] == "2025-09-15"
    window = next(row for row in told["windows"] if row["part"].startswith("CA-1") and row["task"] == "clean")
    assert window["words"] in text
    assert window["rule_code"] in text


def test_one_property_and_bad_arguments(basin) -> None:
    out = io.StringIO()
    other, *_ = yard()
    call_command(
        "due", "--as-of", str(DAY), "--days", "400", "--property", str(other.property.uid), "--json", stdout=out
    )
    assert {row["property"] for row in json.loads(out.getvalue())["windows"]} == {str(other.property.uid)}
    for wrong in (["--as-of", "yesterday"], ["--days", "-1"], ["--property", "x"]):
        with pytest.raises(CommandError):
            call_command("due", *wrong)


def test_the_stored_windows_are_shown_without_a_day(basin) -> None:
    call_command("refresh", stdout=io.StringIO())
    out = io.StringIO()
    call_command("due", "--days", "3650", "--json", stdout=out)
    told = json.loads(out.getvalue())
    assert len(told["windows"]) == DueWindow.objects.count() > 0
    assert told["stale_properties"] == 0
