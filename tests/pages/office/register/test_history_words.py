"""The history is read in words: parts by their tags, sizes one by one, nobody's id on the page."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.act import by_system
from core.history import record_change
from jobs import connect
from jobs.change_component import add_component, change_component
from jobs.people import give_role
from jobs.register import create_system
from pages.office.register.history_words import told
from tests.factories import AT, CustomerFactory

pytestmark = pytest.mark.django_db
UID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-")


@pytest.fixture
def changed(cast):
    """A yard made by the services, so that its history is real."""
    act = by_system("test", at=AT)
    system = create_system(act=act, property=cast.property, name="Patio")
    sizes = {"inside_width_in": 4.0, "length_ft": 30.0}
    channel = add_component(
        act=act, property=cast.property, kind="channel_run", tag="CH-1", system=system, dimensions=sizes
    )
    outfall = add_component(act=act, property=cast.property, kind="outfall", tag="OF-1", system=system)
    link = connect.connect(act=act, from_component=channel, to_component=outfall)
    connect.disconnect(act=act, connection=link)
    give_role(act=act, property=cast.property, customer=CustomerFactory(name="Uma Invented"), role="manager",
              from_date=AT.date())  # fmt: skip
    later = cast.act("office", at=AT + timedelta(hours=1))
    change_component(
        act=later, component=channel, revision=1, dimensions={"inside_width_in": 5.0, "length_ft": 30.0},
        place=[[0, -5], [30, -5.5]],
    )  # fmt: skip
    return channel


def page(browser_of, route, uid) -> str:
    answer = browser_of("office").get(reverse(f"pages:{route}", args=[uid]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_everything_at_the_property_in_words(browser_of, cast, changed):
    shown = page(browser_of, "property_history", cast.property.uid)
    for words in ("Part recorded: CH-1", "Part changed: CH-1", "System recorded: Patio", "Connection taken away",
                  "Role of a person recorded", "customer: Uma Invented", "from component: was CH-1, now nothing",
                  "system: Patio", "place: 0 -5; 30 -5.5", "Mara Weir"):  # fmt: skip
        assert words in shown, words
    assert not UID.search(re.sub(r'(href|action|value)="[^"]*"', "", shown)), "an id is no word"


def test_a_size_that_changed_is_told_alone_with_its_unit(cast, changed):
    from jobs.read import history

    entries = told(cast.act("office"), history.of_object(cast.act("office"), changed.uid).entries, "America/New_York")
    newest = entries[0]
    assert ("inside width, in", "4", "5") in [(line.field, line.before, line.after) for line in newest.lines]
    assert not any(line.field.startswith("length") for line in newest.lines)
    assert newest.at.utcoffset() == timedelta(hours=-4), "New York in May"
    assert (newest.who, newest.via) == ("Mara Weir", "on a page")


def test_one_part_alone(browser_of, changed):
    shown = page(browser_of, "component_history", changed.uid)
    assert "Part changed: CH-1" in shown
    assert "OF-1" not in shown


def test_older_ones_follow_in_pages_at_a_constant_cost(browser_of, cast, changed):
    client = browser_of("office")
    address = reverse("pages:property_history", args=[cast.property.uid])

    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            assert client.get(address).status_code == 200
        return len(found)

    queries()
    few = queries()
    act = by_system("test", at=AT)
    for n in range(120):
        record_change(act=act, noun="property", uid=cast.property.uid, action="change", before={"note": ""},
                      after={"note": f"number {n}"}, property_uid=cast.property.uid)  # fmt: skip
    assert queries() == few
    first = client.get(address)
    assert "number 119" in first.content.decode()
    assert "number 60" not in first.content.decode()
    second = client.get(address, {"before": first.context["next_before"]})
    assert "number 60" in second.content.decode()
    assert "number 119" not in second.content.decode()
    assert client.get(address, {"before": "9" * 40}).status_code == 200
