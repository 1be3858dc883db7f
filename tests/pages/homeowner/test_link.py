"""The homeowner's link: GET changes nothing, POST opens once, and nobody learns what we know."""

import re
from datetime import timedelta

import pytest
from django.test import Client

from core import clock
from core.models import Message, Token
from jobs.models import Customer
from maintenance import house_sold
from tests.factories import AT, TODAY
from tests.pages.conftest import home_link, signed_in

pytestmark = pytest.mark.django_db


def test_get_and_head_show_a_button_and_change_nothing(cast):
    """Mail scanners follow links."""
    path = f"/home/{home_link(cast.homeowner)}/"
    client = Client()
    for _ in range(2):
        response = client.get(path)
        assert response.status_code == 200
        assert b"<button>Open my page" in response.content
    assert client.head(path).status_code == 200
    assert Token.objects.get().used_at is None
    assert not client.session.keys()
    assert response["Referrer-Policy"] == "no-referrer"
    assert response["Cache-Control"] == "private, no-store"


def test_post_opens_the_session_for_30_days_and_nothing_stays_in_the_address(cast):
    link = home_link(cast.homeowner)
    client = Client(enforce_csrf_checks=True)
    response = client.post(f"/home/{link}/", headers={"Origin": "null", "Sec-Fetch-Site": "same-origin"})
    assert response["Location"] == "/drains/"
    assert Token.objects.get().used_at == AT
    assert client.session.get_expiry_age() == pytest.approx(30 * 86400, abs=60)
    page = client.get("/drains/", follow=True)
    assert page.status_code == 200
    assert link.encode() not in page.content


def test_a_form_from_elsewhere_does_not_open_it(cast):
    link = home_link(cast.homeowner)
    Client().post(f"/home/{link}/", headers={"Sec-Fetch-Site": "cross-site"})
    assert Token.objects.get().used_at is None


def test_used_old_revoked_and_unknown_look_alike_and_offer_a_new_one(cast, monkeypatch):
    used, revoked, old = (home_link(cast.homeowner) for _ in range(3))
    signed = Client()
    signed.post(f"/home/{used}/")
    Token.objects.filter(lookup=revoked.split("_")[1]).update(revoked_at=AT)
    Token.objects.filter(lookup=old.split("_")[1]).update(expires_at=AT)
    pages = set()
    for secret in (used, revoked, old, "slh_000000000000_AAAA", "nonsense"):
        for method in ("get", "post"):
            response = getattr(Client(), method)(f"/home/{secret}/")
            assert response.status_code == 410
            assert b"Mail me a new link" in response.content
            pages.add(response.content)
    assert len(pages) == 1


def test_the_same_link_on_the_device_it_opened_leads_to_the_page(cast):
    link = home_link(cast.homeowner)
    client = Client()
    client.post(f"/home/{link}/")
    for method in ("get", "post"):
        assert getattr(client, method)(f"/home/{link}/")["Location"] == "/drains/"


def test_a_new_link_is_mailed_and_the_answer_tells_nothing(cast):
    answers = set()
    for address in (cast.homeowner.email, "nobody@home.invalid", "no address"):
        response = Client(enforce_csrf_checks=True).post("/home/new-link/", {"email": address})
        assert response.status_code == 200
        answers.add(response.content)
    assert len(answers) == 1
    assert [m.to_address for m in Message.objects.all()] == [cast.homeowner.email]
    assert Client().get("/home/new-link/").status_code == 200


def test_asking_too_often_is_told_to_wait(cast):
    client = Client()
    statuses = [client.post("/home/new-link/", {"email": "nobody@home.invalid"}).status_code for _ in range(12)]
    assert statuses[:10] == [200] * 10
    assert statuses[-1] == 429


def test_guessing_is_told_to_wait(cast):
    client = Client()
    statuses = [client.get(f"/home/slh_000000000000_{n}/").status_code for n in range(61)]
    assert (statuses[0], statuses[-1]) == (410, 429)


def test_the_session_ends_with_the_role_the_link_and_the_person(cast):
    def browser():
        client = signed_in(cast.homeowner)
        assert client.get("/drains/messages/").status_code == 200
        return client

    one, two, three = browser(), browser(), browser()
    Token.objects.filter(pk=one.session["home_token"]).update(revoked_at=AT)
    assert one.get("/drains/messages/").status_code == 302
    assert two.get("/drains/messages/").status_code == 200
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY)
    assert two.get("/drains/messages/").status_code == 302
    cast.role.until_date = None
    cast.role.save()
    Token.objects.update(revoked_at=None)
    Customer.objects.filter(pk=cast.homeowner.pk).update(erased_at=AT)
    assert three.get("/drains/messages/").status_code == 302


def test_a_role_to_come_ends_the_session_on_its_day(cast, monkeypatch):
    client = signed_in(cast.homeowner)
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY + timedelta(days=2))
    assert client.get("/drains/messages/").status_code == 200
    monkeypatch.setattr(clock, "now", lambda: AT + timedelta(days=2))
    assert client.get("/drains/messages/").status_code == 302


def test_the_role_counts_by_the_companys_day_not_by_utc(cast, monkeypatch):
    """21:00 on the last day in New York is the next day in UTC: the page stays open until midnight there."""
    client = signed_in(cast.homeowner)
    house_sold.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY + timedelta(days=1))
    monkeypatch.setattr(clock, "now", lambda: AT + timedelta(hours=12))
    assert client.get("/drains/messages/").status_code == 200
    monkeypatch.setattr(clock, "now", lambda: AT + timedelta(hours=16))
    assert client.get("/drains/messages/").status_code == 302


def test_the_page_speaks_the_persons_language_whatever_the_browser_says(cast, yard):
    cast.homeowner.language = "es"
    cast.homeowner.save()
    response = signed_in(cast.homeowner).get(f"/drains/{cast.property.uid}/", headers={"Accept-Language": "en"})
    assert response["Content-Language"] == "es"
    assert '<html lang="es">' in response.content.decode()
    assert "lunes" in response.content.decode()


def test_leaving_ends_this_device_alone(cast):
    one, two = signed_in(cast.homeowner), signed_in(cast.homeowner)
    assert one.post("/home/leave/")["Location"] == "/home/new-link/"
    assert one.get("/drains/").status_code == 302
    assert two.get("/drains/messages/").status_code == 200


def test_the_address_of_a_visit_sends_each_to_their_own_page(cast, yard, browser_of):
    path = f"/v/{yard.agreed.uid}/"
    assert browser_of("homeowner").get(path)["Location"] == f"/drains/visits/{yard.agreed.uid}/"
    assert browser_of("crew").get(path)["Location"] == f"/crew/visits/{yard.agreed.uid}/"
    unknown = re.sub(r"[0-9a-f]", "0", path)
    seen, none = Client().get(path), Client().get(unknown)
    assert seen.content.replace(path.encode(), b"") == none.content.replace(unknown.encode(), b"")
