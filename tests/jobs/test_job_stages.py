"""Jobs go from stage to stage, each stage kept; digging wants a locate number; in service wants a sound system."""

from datetime import date

import pytest

from core.problem import BadInput, Conflict, StaleVersion
from jobs import job_stages
from jobs.models import Job
from tests import factories
from tests.factories import TODAY

pytestmark = pytest.mark.django_db

WAY = ("measured", "priced", "accepted", "digging", "in_service")


@pytest.fixture
def cast():
    return factories.make_cast()


@pytest.fixture
def office(cast):
    return cast.act("office")


def opened(cast, **fields):
    given = {"kind": "install", "title": "Drain the patio", **fields}
    return job_stages.open_job(act=cast.act("office"), property=cast.property, **given)


def moved_to(act, job, stage):
    for step in WAY[: WAY.index(stage) + 1]:
        job = job_stages.move_job(act=act, job=job, stage=step)
    return job


def test_a_job_goes_its_way_and_keeps_each_step(office, cast):
    system = factories.channel_to_sump(cast.property)
    system.installed_on = None
    system.save()
    job = opened(cast, system=system, price_cents=1_250_000, locate_number="L-1", waits_for="the homeowner's answer")
    job = moved_to(office, job, "in_service")
    assert [step.stage for step in job.steps.all()] == ["asked", *WAY]
    assert job.waits_for == ""
    system.refresh_from_db()
    assert system.installed_on == TODAY


@pytest.mark.parametrize(
    ("present", "asked", "words"),
    [
        ("asked", "priced", "This job is asked: from there it goes to measured or turned down, not to priced"),
        ("priced", "asked", "from there it goes to accepted or turned down"),
        ("digging", "turned_down", "from there it goes to in service"),
        ("in_service", "digging", "it goes no further"),
        ("turned_down", "asked", "it goes no further"),
    ],
)
def test_other_moves_are_refused(office, cast, present, asked, words):
    job = factories.JobFactory(property=cast.property, stage=present)
    with pytest.raises(Conflict) as refused:
        job_stages.move_job(act=office, job=job, stage=asked)
    assert words in refused.value.detail
    assert not job.steps.exists()


@pytest.mark.parametrize("present", ["asked", "measured", "priced", "accepted"])
def test_a_job_can_be_turned_down_before_digging(office, cast, present):
    job = factories.JobFactory(property=cast.property, stage=present)
    assert job_stages.move_job(act=office, job=job, stage="turned_down", note="too dear").stage == "turned_down"
    assert job.steps.get().note == "too dear"


def test_nobody_digs_without_a_locate_number_or_a_reason(office, cast):
    job = moved_to(office, opened(cast), "accepted")
    with pytest.raises(BadInput, match="utility-locate number"):
        job_stages.move_job(act=office, job=job, stage="digging")
    dug = job_stages.move_job(act=office, job=job, stage="digging", note="hand work inside the planter only")
    assert dug.steps.last().note == "hand work inside the planter only"


def test_in_service_is_refused_while_our_system_has_errors(office, cast):
    system = factories.SystemFactory(property=cast.property, installed_on=None)
    factories.ComponentFactory(system=system, kind="channel_run", tag="CH-3")
    job = moved_to(office, opened(cast, system=system, locate_number="L-2"), "digging")
    with pytest.raises(BadInput, match=r"cannot be put in service yet\. CH-3 leads nowhere"):
        job_stages.move_job(act=office, job=job, stage="in_service")
    system.refresh_from_db()
    assert system.installed_on is None
    without = moved_to(office, opened(cast, locate_number="L-3"), "digging")
    with pytest.raises(BadInput, match="Say which system this install made"):
        job_stages.move_job(act=office, job=without, stage="in_service")
    repair = moved_to(office, opened(cast, kind="repair", locate_number="L-4"), "in_service")
    assert repair.stage == "in_service"


def test_an_install_day_that_is_recorded_stays(office, cast):
    system = factories.channel_to_sump(cast.property)
    moved_to(office, opened(cast, system=system, kind="extension", locate_number="L-5"), "in_service")
    system.refresh_from_db()
    assert system.installed_on == date(2022, 6, 1)


def test_moving_to_where_it_is_changes_nothing(office, cast):
    job = moved_to(office, opened(cast), "measured")
    revision = job.revision
    again = job_stages.move_job(act=office, job=job, stage="measured")
    assert (again.revision, again.steps.count()) == (revision, 2)


def test_a_job_is_changed_by_one_at_a_time(office, cast):
    job = opened(cast)
    job_stages.change_job(act=office, job=job, revision=1, price_cents=100)
    with pytest.raises(StaleVersion):
        job_stages.change_job(act=office, job=job, revision=1, price_cents=200)
    with pytest.raises(BadInput, match="price_cents is -1 cents: give a whole number from 0"):
        job_stages.change_job(act=office, job=job, revision=2, price_cents=-1)
    with pytest.raises(BadInput, match="stage is not a field of a job"):
        job_stages.change_job(act=office, job=job, revision=2, stage="digging")
    with pytest.raises(BadInput, match="is not at 7 Cistern Row"):
        job_stages.change_job(act=office, job=job, revision=2, system=factories.SystemFactory())
    assert Job.objects.get(pk=job.pk).price_cents == 100
