"""The stored storm rating of a system over the API."""

import pytest

from core.act import by_system
from maintenance import rating
from tests.factories import AT, channel_to_sump

pytestmark = pytest.mark.django_db


def test_a_rating_is_read_once_computed(office, cast):
    system = channel_to_sump(cast.property)
    address = f"/systems/{system.uid}/storm-rating/"
    assert "not computed yet" in office.get(address).json()["needs"][0]
    rating.rate_properties(act=by_system("test", at=AT), property_ids=[system.property_id])
    told = office.get(address).json()
    assert told["system"] == str(system.uid)
    assert told["note"].startswith("An estimate")
    assert told["as_new"] is None or told["states"]["as_new"]["limiting"]
