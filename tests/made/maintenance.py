"""Factories for rules, readings, windows, rain and feeds."""

import hashlib
from datetime import timedelta

import factory

from maintenance.models import (
    CapacityFill,
    DueWindow,
    EventFragment,
    Feed,
    Gauge,
    LearnedLife,
    LearnedRate,
    MessageChoice,
    OddReading,
    PropertyForecast,
    PumpLoad,
    RainRow,
    RainTable,
    Reading,
    RefreshPiece,
    RefreshRun,
    Rule,
    RuleOverride,
    RuleVersion,
    SystemRating,
    TaskDone,
)
from tests.made.core import UserFactory
from tests.made.register import ComponentFactory, CustomerFactory, PropertyFactory, SystemFactory
from tests.made.times import AT, TODAY, ZONE
from tests.made.visits import VisitFactory


class RuleFactory(factory.django.DjangoModelFactory):
    """A calendar rule of the company with one version."""

    class Meta:
        model = Rule
        skip_postgeneration_save = True

    code = factory.Sequence(lambda n: f"test-rule-{n}")
    kind = "catch_basin"
    task = "clean"
    origin = "company"

    @factory.post_generation
    def version(obj, create, extracted, **kwargs):
        """Give version=False to leave it out."""
        if create and extracted is not False:
            RuleVersionFactory(rule=obj, **kwargs)


class RuleVersionFactory(factory.django.DjangoModelFactory):
    """Twice a year, firm."""

    class Meta:
        model = RuleVersion

    rule = factory.SubFactory(RuleFactory, version=False)
    recorded_at = AT
    recorded_by = "system:test"
    basis = RuleVersion.Basis.CALENDAR
    standing = RuleVersion.Standing.FIRM
    numbers = factory.LazyFunction(lambda: {"months": 6})
    words_office = "clean twice a year"
    words_homeowner = "We clean this twice a year."
    source = "common practice, no source"


class RuleOverrideFactory(factory.django.DjangoModelFactory):
    """Other numbers for one component."""

    class Meta:
        model = RuleOverride

    rule = factory.SubFactory(RuleFactory)
    component = factory.SubFactory(ComponentFactory)
    property = factory.LazyAttribute(lambda o: o.component.property)
    recorded_at = AT
    recorded_by = "system:test"
    numbers = factory.LazyFunction(lambda: {"months": 3})


class ReadingFactory(factory.django.DjangoModelFactory):
    """A silt depth of 2 in measured before cleaning."""

    class Meta:
        model = Reading

    component = factory.SubFactory(ComponentFactory)
    code = "silt_depth_in"
    value = 2.0
    unit = "in"
    canonical = factory.LazyAttribute(lambda o: o.value)
    measured_at = AT
    recorded_at = factory.LazyAttribute(lambda o: o.measured_at)
    measured_by = "system:test"
    entered_by = "system:test"


class TaskDoneFactory(factory.django.DjangoModelFactory):
    """A cleaning that left nothing behind."""

    class Meta:
        model = TaskDone

    component = factory.SubFactory(ComponentFactory)
    task = "clean"
    outcome = "done"
    done_on = TODAY
    recorded_at = AT
    left_fill = 0.0
    by = "system:test"


class CapacityFillFactory(factory.django.DjangoModelFactory):
    """The fill at which a component alone limits its system."""

    class Meta:
        model = CapacityFill

    component = factory.SubFactory(ComponentFactory)
    fill = 0.4
    recorded_at = AT


class DueWindowFactory(factory.django.DjangoModelFactory):
    """A cleaning due in a month."""

    class Meta:
        model = DueWindow

    component = factory.SubFactory(ComponentFactory)
    property = factory.LazyAttribute(lambda o: o.component.property)
    task = "clean"
    rule_code = "test-rule"
    basis = "calendar"
    best_on = TODAY + timedelta(days=30)
    earliest_on = factory.LazyAttribute(lambda o: o.best_on - timedelta(days=20))
    latest_on = factory.LazyAttribute(lambda o: o.best_on + timedelta(days=20))
    minutes = 20
    reason = factory.LazyFunction(dict)
    words = "clean twice a year"
    inputs = factory.LazyFunction(dict)


class PropertyForecastFactory(factory.django.DjangoModelFactory):
    """A computation that is up to date."""

    class Meta:
        model = PropertyForecast

    property = factory.SubFactory(PropertyFactory)
    computed_at = AT
    as_of = TODAY
    register_revision = factory.LazyAttribute(lambda o: o.property.revision)
    rules_stamp = "test"


class SystemRatingFactory(factory.django.DjangoModelFactory):
    """A system that passes 1.2 times its rating storm."""

    class Meta:
        model = SystemRating

    system = factory.SubFactory(SystemFactory)
    computed_at = AT
    as_of = TODAY
    register_revision = 1
    as_new = 1.2
    today = 1.1
    cleaned = 1.2


class GaugeFactory(factory.django.DjangoModelFactory):
    """An invented gauge."""

    class Meta:
        model = Gauge

    name = factory.Sequence(lambda n: f"Gauge {n}")
    zone = ZONE
    source = "invented for tests"


class RainRowFactory(factory.django.DjangoModelFactory):
    """12 mm in a day."""

    class Meta:
        model = RainRow

    gauge = factory.SubFactory(GaugeFactory)
    day = factory.Sequence(lambda n: TODAY - timedelta(days=n % 300))
    depth_mm = 12.0
    recorded_at = AT


class RainTableFactory(factory.django.DjangoModelFactory):
    """A small invented depth-duration-frequency table for the whole company."""

    class Meta:
        model = RainTable

    name = "invented"
    durations_min = factory.LazyFunction(lambda: [5, 15, 60, 1440])
    return_years = factory.LazyFunction(lambda: [2, 10, 100])
    depths_in = factory.LazyFunction(lambda: [[0.4, 0.6, 0.9], [0.8, 1.1, 1.7], [1.4, 2.1, 3.3], [3.2, 5.0, 8.5]])
    source = "invented for tests"
    recorded_at = AT


class FeedFactory(factory.django.DjangoModelFactory):
    """A technician's feed whose plain address nobody knows; to read one use maintenance.feeds.issue_feed."""

    class Meta:
        model = Feed

    kind = Feed.Kind.TECHNICIAN
    lookup = factory.Sequence(lambda n: f"{n:012x}")
    digest = factory.LazyAttribute(lambda o: hashlib.sha256(o.lookup.encode()).hexdigest())
    user = factory.SubFactory(UserFactory)
    created_at = AT


class EventFragmentFactory(factory.django.DjangoModelFactory):
    """Event bytes of one visit."""

    class Meta:
        model = EventFragment

    visit = factory.SubFactory(VisitFactory)
    audience = "technician"
    revision = 1
    body = b"BEGIN:VEVENT\r\nEND:VEVENT\r\n"


class MessageChoiceFactory(factory.django.DjangoModelFactory):
    """A customer who wants no reminders of their own tasks."""

    class Meta:
        model = MessageChoice

    customer = factory.SubFactory(CustomerFactory)
    kind = "owner_task"
    wanted = False
    since = AT


class LearnedRateFactory(factory.django.DjangoModelFactory):
    """Catch basins under some trees, learned from 40 readings on 20 parts."""

    class Meta:
        model = LearnedRate

    recorded_at = AT
    as_of = TODAY
    group = factory.Sequence(lambda n: f"catch_basin/some{n or ''}")
    mu = -0.4
    tau = 0.5
    s = 0.25
    load = factory.LazyFunction(lambda: [0.6, 0.3, 0.1])
    readings = 40
    parts = 20
    parts_known = 20
    learned = True
    thumb_mu = -0.6
    source = "learned from our own yards"
    why = "learned from 40 readings on 20 parts"


class LearnedLifeFactory(factory.django.DjangoModelFactory):
    """Pumps, three failures: the assumed life."""

    class Meta:
        model = LearnedLife

    recorded_at = AT
    as_of = TODAY
    kind = "pump"
    failures = 3
    survivors = 40
    shape = 3.0
    scale_years = 11.299
    assumed_shape = 3.0
    assumed_median_years = 10.0
    why = "assumed life kept: 3 failures, 10 are needed"


class PumpLoadFactory(factory.django.DjangoModelFactory):
    """A pump that ran 100 hours in a year."""

    class Meta:
        model = PumpLoad

    component = factory.SubFactory(ComponentFactory, kind="pump")
    recorded_at = AT
    from_on = TODAY - timedelta(days=365)
    until_on = TODAY
    run_hours = 100.0
    starts = 3000.0
    hours_per_year = 100.0
    starts_per_year = 3000.0
    runoff_area_m2 = 100.0
    duty_m3_h = 12.0
    active_m3 = 0.05
    gauge = "Gauge"


class OddReadingFactory(factory.django.DjangoModelFactory):
    """A depth above what the part holds."""

    class Meta:
        model = OddReading

    component = factory.SubFactory(ComponentFactory)
    reading = factory.SubFactory(ReadingFactory, component=factory.SelfAttribute("..component"))
    code = "above_the_part"
    params = factory.LazyFunction(lambda: {"on": TODAY.isoformat()})
    recorded_at = AT
    recorded_by = "system:test"


class RefreshRunFactory(factory.django.DjangoModelFactory):
    """A finished run."""

    class Meta:
        model = RefreshRun

    state = "done"
    open = None
    as_of = TODAY
    started_at = AT
    started_by = "system:night"
    changed_at = AT
    changed_by = "system:night"
    finished_at = AT


class RefreshPieceFactory(factory.django.DjangoModelFactory):
    """A piece that nobody has taken."""

    class Meta:
        model = RefreshPiece

    run = factory.SubFactory(RefreshRunFactory)
    number = factory.Sequence(lambda n: n)
    stage = 1
