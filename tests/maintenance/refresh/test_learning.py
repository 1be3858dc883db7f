"""A night's learning: rates of groups, lives of kinds; appended as a run, used by the refresh, not by closeouts."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core import company
from core.models import CompanySettings
from jobs.component_versions import record_version
from maintenance import closeout_after, learning, refresh
from maintenance.models import DueWindow, LearnedLife, LearnedRate
from maintenance.read.learned import learned_lives, learned_rates
from tests.factories import AT, TODAY, PumpLoadFactory, SystemFactory
from tests.maintenance.refresh.yards import EARLY, act, cleaned, drawdown, found, many, part, set_up, yard

pytestmark = pytest.mark.django_db


def silting(count: int, depth_in: float = 2.0) -> None:
    """So many basins, each cleaned twice a year apart and found so deep half a year after each."""
    for _ in range(count):
        basin, *_ = yard()
        for years in (3, 2):
            cleaned(basin, TODAY - timedelta(days=365 * years), left=0.0)
            found(basin, TODAY - timedelta(days=365 * years - 150), depth_in)


def basins() -> LearnedRate:
    return LearnedRate.objects.order_by("-recorded_at").filter(group__startswith="catch_basin").first()


def test_a_group_with_enough_readings_speaks_for_itself_and_a_thin_one_says_what_is_missing() -> None:
    set_up()
    silting(12)
    told = learning.learn(act=act())
    row = basins()
    assert (row.learned, row.readings, row.parts, row.parts_known) == (True, 24, 12, 12)
    assert row.why == "learned from 24 readings on 12 parts"
    assert row.mu != row.thumb_mu
    thin = LearnedRate.objects.get(group__startswith="sump_basin")
    assert (thin.learned, thin.mu, thin.readings) == (False, thin.thumb_mu, 0)
    assert thin.why == "rule of thumb kept: 0 readings on 0 parts, 20 on 8 are needed"
    assert (told.groups, told.groups_learned) == (LearnedRate.objects.count(), 1)
    assert LearnedRate.objects.values("run").distinct().count() == 1
    assert {prior.group for prior in learned_rates(AT)} == {row.group}


def test_the_companys_own_limits_say_when_a_group_is_thin() -> None:
    set_up()
    silting(12)
    company.change(act=act(), pool_least_parts=13)
    learning.learn(act=act())
    assert not basins().learned
    assert basins().why == "rule of thumb kept: 24 readings on 12 parts, 20 on 13 are needed"


def test_the_refresh_uses_the_newest_run_and_a_closeout_learns_nothing() -> None:
    set_up()
    silting(12, depth_in=2.6)
    new, *_ = yard()
    refresh.refresh_property(act=act(), property_id=new.property_id)
    before = DueWindow.objects.get(component=new, task="clean", who="crew")
    learning.learn(act=act())
    runs = LearnedRate.objects.count()
    assert closeout_after.recompute(act=act(AT + timedelta(minutes=5)), property_id=new.property_id)
    after = DueWindow.objects.get(component=new, task="clean", who="crew")
    assert basins().mu > basins().thumb_mu
    assert after.inputs["group_rate"] > before.inputs["group_rate"]
    assert after.inputs["group_source"] == "learned from our own yards"
    assert LearnedRate.objects.count() == runs


def test_what_was_learned_makes_every_window_stale() -> None:
    set_up()
    yard()
    refresh.refresh_all(act=act())
    assert refresh.refresh_stale(act=act()) == 0
    learning.learn(act=act())
    assert refresh.refresh_stale(act=act()) == 1


def test_only_the_newest_run_by_the_day_counts() -> None:
    set_up()
    silting(12)
    learning.learn(act=act(AT - timedelta(days=3)))
    first = learned_rates(AT)
    silting(3, depth_in=3.2)
    learning.learn(act=act())
    assert learned_rates(AT - timedelta(seconds=1)) == first
    assert learned_rates(AT) != first
    assert learned_rates(AT - timedelta(days=4)) == ()


def test_learning_does_not_depend_on_the_nights_before() -> None:
    set_up()
    silting(12)
    learning.learn(act=act(AT - timedelta(hours=5)))
    learning.learn(act=act())
    mine = {"mu", "tau", "s", "cycle_sd", "readings", "parts"}
    first, second = LearnedRate.objects.filter(group=basins().group).order_by("recorded_at").values(*mine)
    assert first == second


def test_one_run_is_learned_once_and_giving_up_writes_nothing() -> None:
    set_up()
    silting(12)
    run = learning.learn(act=act()).run
    rows = LearnedRate.objects.count() + LearnedLife.objects.count()
    again = learning.learn(act=act(AT + timedelta(hours=1)), run=run)
    assert again.run == run
    assert LearnedRate.objects.count() + LearnedLife.objects.count() == rows

    calls = []

    def lost() -> None:
        calls.append(1)
        if len(calls) > 2:
            raise RuntimeError("the lease is over")

    with pytest.raises(RuntimeError, match="lease"):
        learning.learn(act=act(AT + timedelta(hours=2)), still=lost)
    assert LearnedRate.objects.count() + LearnedLife.objects.count() == rows


def test_a_property_that_cannot_be_read_stops_nobody() -> None:
    set_up()
    silting(12)
    bad, *_ = yard()
    version = bad.versions.get()
    version.data["installed_on"] = "the day before"
    type(version).objects.filter(pk=version.pk).update(data=version.data)
    learning.learn(act=act())
    assert (basins().learned, basins().parts) == (True, 12)


def test_a_large_group_is_learned_from_an_even_part_of_it(monkeypatch) -> None:
    monkeypatch.setattr(learning, "MOST_PARTS", 10)
    set_up()
    silting(25)
    learning.learn(act=act())
    assert (basins().learned, basins().parts, basins().parts_known) == (True, 10, 25)


def test_learning_costs_the_same_queries_at_any_size() -> None:
    set_up()
    many(20, 5)
    with CaptureQueriesContext(connection) as few:
        learning.learn(act=act())
    many(200, 5)
    with CaptureQueriesContext(connection) as more:
        learning.learn(act=act(AT + timedelta(minutes=1)))
    assert len(few) == len(more)


# --- lives ---------------------------------------------------------------------------------------------------------


def ended(because: str, years: float, count: int) -> None:
    """So many of our own pumps that went in so long before they were taken out for such a reason."""
    system = SystemFactory(created_at=EARLY)
    for number in range(count):
        gone = TODAY - timedelta(days=30 + number)
        pump = part(system, "pump", tag=f"PU-{because}{number}", installed_on=gone - timedelta(days=365 * years))
        pump.retired_on, pump.retired_reason, pump.retired_because = gone, "it was so", because
        pump.save()
        record_version(pump, AT - timedelta(days=1))


def pumps() -> LearnedLife:
    return LearnedLife.objects.order_by("-recorded_at", "-id").filter(kind="pump").first()


def test_failures_alone_count_as_failures_and_under_ten_the_assumed_life_stays() -> None:
    set_up()
    ended("failed", 4, 9)
    for because in ("worn", "planned", "not_needed", "damaged", ""):
        ended(because, 4, 2)
    learning.learn(act=act())
    assert (pumps().failures, pumps().survivors, pumps().learned) == (9, 10, False)
    assert pumps().assumed_median_years == 10.0
    assert learned_lives(AT) == {}


def test_a_learned_life_governs_tests_and_replacement_but_not_numbers_given_for_one_place() -> None:
    set_up()
    ended("failed", 3, 14)
    _, _, pump = yard()
    refresh.refresh_property(act=act(), property_id=pump.property_id)
    test, replace = (DueWindow.objects.get(component=pump, task=task) for task in ("test_pump", "replace"))
    learning.learn(act=act())
    assert pumps().learned
    assert pumps().scale_years < 11.0
    refresh.refresh_property(act=act(), property_id=pump.property_id)
    sooner_test, sooner = (DueWindow.objects.get(component=pump, task=task) for task in ("test_pump", "replace"))
    assert sooner.latest_on < replace.latest_on
    assert sooner_test.latest_on <= test.latest_on
    assert sooner.inputs["scale_years"] == pytest.approx(pumps().scale_years, rel=1e-5)


def test_an_old_pump_of_someone_elses_system_counts_only_since_it_is_on_record() -> None:
    set_up()
    system = SystemFactory(created_at=EARLY, ours=False)
    part(system, "pump", tag="PU-1", installed_on=date(2001, 1, 1))
    gone = part(system, "pump", tag="PU-2", installed_on=date(2001, 1, 1))
    gone.retired_on, gone.retired_because = date(2010, 1, 1), "failed"
    gone.save()
    record_version(gone, EARLY + timedelta(days=1))
    learning.learn(act=act())
    assert (pumps().failures, pumps().survivors) == (0, 1), "one that failed before anyone kept its record"


def test_a_pump_the_rain_works_hard_and_one_whose_flow_has_fallen_are_replaced_sooner() -> None:
    set_up()
    usual, worked, worn = (yard()[2] for _ in range(3))
    PumpLoadFactory(component=worked, hours_per_year=600.0, starts_per_year=12_000.0)
    for pump, seconds in ((worn, 11.6), (usual, 10.2)):
        drawdown(pump, pump.installed_on + timedelta(days=10), 10.0)
        drawdown(pump, TODAY - timedelta(days=20), seconds)
    keys = [pump.property_id for pump in (usual, worked, worn)]
    refresh.refresh_properties(act=act(), property_ids=keys)
    latest = {w.component_id: w.latest_on for w in DueWindow.objects.filter(task="replace", component__kind="pump")}
    assert latest[worked.pk] < latest[usual.pk]
    assert latest[worn.pk] < latest[usual.pk]
    # Neither date drifts with the day of asking.
    refresh.refresh_properties(act=act(AT + timedelta(days=9)), property_ids=keys)
    again = {w.component_id: w.latest_on for w in DueWindow.objects.filter(task="replace", component__kind="pump")}
    assert again == latest


def test_settings_change_the_weights_of_wear() -> None:
    set_up()
    _, _, pump = yard()
    PumpLoadFactory(component=pump, hours_per_year=0.0, starts_per_year=0.0)
    refresh.refresh_property(act=act(), property_id=pump.property_id)
    half = DueWindow.objects.get(component=pump, task="replace").latest_on
    company.change(act=act(), wear_calendar=1.0)
    assert CompanySettings.objects.count() == 2
    refresh.refresh_property(act=act(), property_id=pump.property_id)
    assert DueWindow.objects.get(component=pump, task="replace").latest_on < half
