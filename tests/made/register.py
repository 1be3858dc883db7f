"""Factories for the records of the register. All people and addresses are invented."""

from datetime import date

import factory

from core import normalise
from jobs.component_versions import record_version
from jobs.models import (
    Area,
    Component,
    Connection,
    Customer,
    DrainageArea,
    Hazard,
    Job,
    JobStep,
    Photo,
    Property,
    PropertyAccess,
    PropertyRole,
    System,
)
from tests.made.core import StoredFileFactory, UserFactory
from tests.made.times import AT, ZONE


class AreaFactory(factory.django.DjangoModelFactory):
    """A named group of properties."""

    class Meta:
        model = Area

    name = factory.Sequence(lambda n: f"Area {n}")


class PropertyFactory(factory.django.DjangoModelFactory):
    """One address, found by searching for it."""

    class Meta:
        model = Property

    address = factory.Sequence(lambda n: f"{n + 1} Hollow Lane")
    city = "Upper Fernby"
    region = "NY"
    postcode = "00000"
    zone = ZONE
    lat = 41.0
    lon = factory.Sequence(lambda n: -74.0 + (n % 100) / 1000)
    area = factory.SubFactory(AreaFactory)
    corner = "north-east corner of the house"
    created_at = AT
    search = factory.LazyAttribute(lambda o: normalise.search_text(o.address, o.city, o.postcode))


class CustomerFactory(factory.django.DjangoModelFactory):
    """A person reached by mail and phone."""

    class Meta:
        model = Customer

    name = factory.Sequence(lambda n: f"Customer {n}")
    email = factory.Sequence(lambda n: f"customer{n}@home.invalid")
    phone = factory.Sequence(lambda n: f"555-01{n % 100:02d}")
    created_at = AT
    search = factory.LazyAttribute(lambda o: normalise.search_text(o.name, o.email, o.phone))


class PropertyRoleFactory(factory.django.DjangoModelFactory):
    """The owner of a property since 2020."""

    class Meta:
        model = PropertyRole

    property = factory.SubFactory(PropertyFactory)
    customer = factory.SubFactory(CustomerFactory)
    role = PropertyRole.Role.OWNER
    from_date = date(2020, 1, 1)
    approves_cost = True


class PropertyAccessFactory(factory.django.DjangoModelFactory):
    """A technician's sight of a property, because of a visit."""

    class Meta:
        model = PropertyAccess

    property = factory.SubFactory(PropertyFactory)
    user = factory.SubFactory(UserFactory)
    reason = PropertyAccess.Reason.VISIT
    since = AT


class HazardFactory(factory.django.DjangoModelFactory):
    """A shallow cable."""

    class Meta:
        model = Hazard

    property = factory.SubFactory(PropertyFactory)
    kind = Hazard.Kind.CABLE
    note = "to the pool light"
    x_ft = 4.0
    y_ft = -6.0
    depth_in = 5.0
    found_at = AT


class SystemFactory(factory.django.DjangoModelFactory):
    """An empty system of ours."""

    class Meta:
        model = System

    property = factory.SubFactory(PropertyFactory)
    name = factory.Sequence(lambda n: f"System {n}")
    installed_on = date(2022, 6, 1)
    created_at = AT


class ComponentFactory(factory.django.DjangoModelFactory):
    """A catch basin of which only its silt room is known; its first version is recorded with it."""

    class Meta:
        model = Component
        skip_postgeneration_save = True

    system = factory.SubFactory(SystemFactory)
    property = factory.LazyAttribute(lambda o: o.system.property)
    kind = "catch_basin"
    tag = factory.Sequence(lambda n: f"CB-{n + 1}")
    tag_key = factory.LazyAttribute(lambda o: normalise.tag_key(o.tag))
    dimensions = factory.LazyAttribute(lambda o: {"invert_above_bottom_in": 6.0} if o.kind == "catch_basin" else {})
    certainty = factory.LazyAttribute(lambda o: dict.fromkeys(o.dimensions, "measured"))
    installed_on = date(2022, 6, 1)
    created_at = AT

    @factory.post_generation
    def version(obj, create, extracted, **kwargs):
        """Give version=False to leave it out."""
        if create and extracted is not False:
            record_version(obj, obj.created_at)


class ConnectionFactory(factory.django.DjangoModelFactory):
    """Water from a catch basin to a pipe of the same system."""

    class Meta:
        model = Connection

    from_component = factory.SubFactory(ComponentFactory)
    to_component = factory.SubFactory(
        ComponentFactory,
        kind="gravity_pipe",
        tag=factory.Sequence(lambda n: f"GP-{n + 1}"),
        system=factory.LazyAttribute(lambda o: o.factory_parent.from_component.system),
    )
    property = factory.LazyAttribute(lambda o: o.from_component.property)
    certainty = "measured"


class DrainageAreaFactory(factory.django.DjangoModelFactory):
    """A patio of 400 ft2."""

    class Meta:
        model = DrainageArea

    component = factory.SubFactory(ComponentFactory)
    property = factory.LazyAttribute(lambda o: o.component.property)
    name = "patio"
    surface = DrainageArea.Surface.PAVED
    area_ft2 = 400.0
    runoff_c = 0.9
    certainty = "measured"


class JobFactory(factory.django.DjangoModelFactory):
    """An install someone asked for."""

    class Meta:
        model = Job

    property = factory.SubFactory(PropertyFactory)
    kind = Job.Kind.INSTALL
    title = "Drain the patio"
    created_at = AT


class JobStepFactory(factory.django.DjangoModelFactory):
    """When a job was asked for."""

    class Meta:
        model = JobStep

    job = factory.SubFactory(JobFactory)
    stage = Job.Stage.ASKED
    at = AT
    who = "system:test"


class PhotoFactory(factory.django.DjangoModelFactory):
    """The row of a photo without bytes; to have both use jobs.photos.add_photo."""

    class Meta:
        model = Photo

    property = factory.SubFactory(PropertyFactory)
    original = factory.SubFactory(StoredFileFactory)
    shown = factory.SubFactory(StoredFileFactory)
    caption = "the open trench"
    width_px = 800
    height_px = 600
    taken_at = AT
    taken_by = "system:test"
