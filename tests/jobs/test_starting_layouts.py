"""A starting layout becomes a whole system that the checks find sound."""

from uuid import uuid4

import pytest

from core.problem import BadInput
from jobs import starting_layouts
from jobs.decide import layouts
from jobs.models import Component, Property, System
from jobs.read import checks
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    return factories.make_cast()


def apply(cast, layout, **more):
    given = {"property": cast.property, "numbers": {}, "system_name": "Patio", **more}
    return starting_layouts.apply_layout(act=cast.act("office"), layout=layout, **given)


@pytest.mark.parametrize("layout", [layout.code for layout in layouts.ALL])
def test_each_layout_makes_a_sound_system_beside_what_is_there(cast, layout):
    factories.channel_to_sump(cast.property)
    system = apply(cast, layout)
    draft = layouts.draft(layout, {})
    assert system.components.count() == len(draft.components)
    assert system.property.drainage_areas.count() == len(draft.areas) + 1
    assert not [found for found in checks.problems_of(system) if found.severity == "error"]


def test_measured_numbers_are_measured_and_the_rest_assumed(cast):
    system = apply(cast, "channel_pumped_curb", numbers={"channel_length_ft": 31.5}, certainty="measured")
    channel = system.components.get(kind="channel_run")
    assert channel.dimensions["length_ft"] == 31.5
    assert channel.certainty["length_ft"] == "measured"
    assert channel.certainty["inside_width_in"] == "assumed"


def test_a_bad_number_makes_nothing(cast):
    with pytest.raises(BadInput) as refused:
        apply(cast, "channel_pumped_curb", numbers={"channel_length_ft": -3, "colour": 1})
    assert {problem.field for problem in refused.value.fields} == {"channel_length_ft", "colour"}
    with pytest.raises(BadInput, match="layout is 'fountain'"):
        apply(cast, "fountain")
    assert not System.objects.filter(property=cast.property).exists()


def test_the_same_id_twice_makes_one_system(cast):
    uid = uuid4()
    first = apply(cast, "french_dry_well", uid=uid)
    count = Component.objects.count()
    assert apply(cast, "french_dry_well", uid=uid) == first
    assert Component.objects.count() == count
    assert Property.objects.get(pk=cast.property.pk).revision > 1
