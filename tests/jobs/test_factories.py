"""Every factory makes a row that the database takes, and the ready-made yards are true to the kinds."""

import factory
import pytest
from django.apps import apps
from django.db.models import JSONField

from jobs.kinds import registry
from jobs.kinds.dimensions import clean_dimensions
from jobs.models import Component, Connection
from tests import factories

EVERY = [item for item in vars(factories).values() if isinstance(item, type) and issubclass(item, factory.Factory)]


@pytest.mark.django_db
@pytest.mark.parametrize("made", EVERY, ids=lambda item: item.__name__)
def test_a_factory_makes_a_full_row_twice(made):
    first, second = made(), made()
    assert first.pk != second.pk
    # Empty JSON counts as blank to Django's form validation; the database takes it.
    json_fields = {field.name for field in first._meta.fields if isinstance(field, JSONField)}
    first.full_clean(exclude={*json_fields, "password", "body"})


def test_every_model_of_ours_has_a_factory():
    without = {"ComponentVersion"}
    names = {
        model.__name__ for app in ("core", "jobs", "maintenance") for model in apps.get_app_config(app).get_models()
    }
    assert names - {item._meta.model.__name__ for item in EVERY} == without


@pytest.mark.django_db
def test_the_ready_made_yards_hold_dimensions_and_connections_the_kinds_allow():
    yard = factories.PropertyFactory()
    for shape in (factories.channel_to_sump, factories.french_drain_to_outfall, factories.roof_to_dry_well):
        shape(yard)
    factories.half_known(yard)
    parts = list(Component.objects.filter(property=yard))
    assert len(parts) > 15
    for part in parts:
        kind = registry.get(part.kind)
        assert clean_dimensions(kind, part.dimensions, part.certainty).values == part.dimensions
        if part.part_of:
            assert part.part_of.kind in kind.part_of
    for link in Connection.objects.select_related("from_component", "to_component"):
        assert link.to_component.kind in registry.get(link.from_component.kind).may_feed
