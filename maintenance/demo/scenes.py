"""What is going on at the demo company right now, brought about through the same services as real work."""

from datetime import date, time, timedelta

from core import clock
from core.act import Act, by_user
from jobs import job_stages
from jobs.models import Property
from maintenance import agreements, propose, visits
from maintenance.demo.register import Written
from maintenance.models import Rule, Visit

FIRST_STARTS = (time(8, 15), time(10, 0), time(11, 45), time(13, 45))


def bring_about(written: Written, act: Act) -> None:
    """Agreements, a job that digs, proposals, offers, agreed days this week and next, and today's route sheets."""
    office = by_user(written.office, via="demo", at=act.at)
    today = clock.local_date(act.at, "America/New_York")
    _agreements(office, written, today)
    _job(office, written.properties[2], today)
    propose.propose_visits(act=office)
    waiting = list(
        Visit.objects.filter(state=Visit.State.PROPOSED)
        .select_related("property")
        .order_by("no_later_than", "best_on", "id")
    )
    rest = _days_agreed(office, written, waiting, today)
    _offers(office, rest, today)


def _agreements(act: Act, written: Written, today: date) -> None:
    covered = list(Rule.objects.filter(task__in=["clean", "test_pump", "look"]))
    for number in range(0, 60, 3):
        agreements.create_agreement(
            act=act,
            property=written.properties[number],
            starts_on=today - timedelta(days=120),
            ends_on=today + timedelta(days=245),
            rules=covered,
            price_cents=38_500,
            renews=True,
        )


def _job(act: Act, prop: Property, today: date) -> None:
    job = job_stages.open_job(
        act=act, property=prop, kind="extension", title="Second channel at the pool gate (invented)"
    )
    for stage in ("measured", "priced", "accepted"):
        job = job_stages.move_job(act=act, job=job, stage=stage)
    job = job_stages.change_job(
        act=act,
        job=job,
        revision=job.revision,
        locate_number="INV-20417",
        locate_asked_on=today - timedelta(days=6),
        starts_on=today - timedelta(days=1),
    )
    job_stages.move_job(act=act, job=job, stage="digging")


def _days_agreed(act: Act, written: Written, waiting: list[Visit], today: date) -> list[Visit]:
    """Fill the working days from today to the end of next week: three visits a technician and day at most."""
    days = [today + timedelta(days=n) for n in range(10) if (today + timedelta(days=n)).weekday() < 5]
    places = [(day, user, place) for day in days[:6] for user in written.crew for place in range(2)]
    for (day, user, place), visit in zip(places, waiting, strict=False):
        settle = visits.give_notice if visit.property.notice_only else visits.agree
        settle(
            act=act,
            visit=visit,
            local_date=day,
            local_start=FIRST_STARTS[place],
            span_minutes=90,
            technicians=[user],
        )
        visits.assign(act=act, visit=visit, users=[user], place_in_day=place + 1)
    return waiting[len(places) :]


def _offers(act: Act, rest: list[Visit], today: date) -> None:
    """Some offers are out; one of them has waited too long."""
    first = today + timedelta(days=12)
    days = [first + timedelta(days=n) for n in range(6) if (first + timedelta(days=n)).weekday() < 5][:3]
    for number, visit in enumerate(v for v in rest if not v.property.notice_only):
        if number >= 4:
            return
        visits.offer(act=act, visit=visit, days=days)
        if number == 0:
            earlier = act.at - timedelta(days=8)
            Visit.objects.filter(pk=visit.pk).update(offered_at=earlier, answer_by=today - timedelta(days=3))
    visits.unanswered(act=act)
