"""Rules, company settings, tokens, feeds and agreements: changed with versions kept, refused beside the field."""

from datetime import timedelta

import pytest

from core import company, tokens
from core.models import CompanySettings, Token
from maintenance import rules as rule_service
from maintenance.models import Feed, Rule, RuleOverride, ServiceAgreement
from pages.office.desk.company_form import PARTS, CompanyForm, first_values
from tests.factories import AT, TODAY, ComponentFactory, PropertyRoleFactory, SystemFactory

pytestmark = pytest.mark.django_db


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def as_sent(form) -> dict:
    """What a browser sends back of a form nobody touched."""
    sent = {}
    for field in form:
        value = field.value()
        if value is None or value is False:
            continue
        sent[field.html_name] = "on" if value is True else value
    return sent


class TestRules:
    @pytest.fixture
    def rule(self, cast) -> Rule:
        rule_service.install_library(act=cast.act("office"))
        return Rule.objects.get(code="catch_basin_half")

    def test_list_by_part_with_words_numbers_and_source(self, rule, text_of):
        text = text_of("/rules/?kind=catch_basin&active=on")
        assert "Rhode Island 250-RICR-150-10-8.30" in text
        assert "by silt: clean at 0.5 fill; 20 min on site" in text
        assert "Channel run</h2>" not in text
        assert "catch_basin_forty" in text_of("/rules/?active=off")

    def change(self, office, rule, **given):
        answer = office.get(f"/rules/{rule.uid}/")
        sent = as_sent(answer.context["form"])
        return office.post(f"/rules/{rule.uid}/", {**sent, "version": rule.versions.first().pk, **given}, follow=True)

    def test_a_change_is_a_version_with_a_why(self, office, rule):
        assert "A new version holds" in words(self.change(office, rule, n_limit_fill="0.4", why="Heavy trees here"))
        assert rule.versions.count() == 2
        assert rule.versions.first().numbers == {"limit_fill": 0.4}
        text = words(office.get(f"/rules/{rule.uid}/"))
        assert "Heavy trees here" in text
        assert "clean at 0.5 fill" in text  # the version before

    def test_refusals_stand_beside_their_fields(self, office, rule):
        for given, field in (
            ({"n_limit_fill": "2", "why": "x"}, "n_limit_fill"),
            ({"why": ""}, "why"),
            ({"source": "somewhere", "why": "x"}, "source"),
        ):
            answer = self.change(office, rule, **given)
            assert answer.status_code == 422
            assert f'href="#id_{field}"' in answer.content.decode()
        answer = self.change(office, rule, n_limit_fill="0.3", why="x", version="1")
        assert answer.status_code == 422
        assert "meanwhile" in words(answer)
        assert rule.versions.count() == 1

    def test_off_and_on_with_a_why(self, office, rule):
        path = f"/rules/{rule.uid}/switch/"
        assert office.post(path, {"to": "off"}).status_code == 422
        office.post(path, {"to": "off", "why": "Another limit is kept"})
        assert rule.versions.first().active is False
        office.post(path, {"to": "on", "why": "Kept again"})
        assert rule.versions.first().active is True
        assert rule.versions.count() == 3

    def test_override_at_a_property_and_back(self, cast, office, rule, text_of):
        part = ComponentFactory(system=SystemFactory(property=cast.property), tag="CB-7")
        assert "7 Cistern Row" in text_of(f"/rules/{rule.uid}/override/?q=cistern")
        path = f"/rules/{rule.uid}/override/{cast.property.uid}/"
        assert office.post(path, {"why": "x"}).status_code == 422
        assert office.post(path, {"why": "x", "n_limit_fill": "7"}).status_code == 422
        office.post(path, {"component": str(part.uid), "n_limit_fill": "0.3", "why": "Under a willow"})
        override = RuleOverride.objects.get()
        assert (override.component, override.numbers) == (part, {"limit_fill": 0.3})
        assert "Under a willow" in text_of(f"/rules/{rule.uid}/")
        end = f"/rules/overrides/{override.uid}/end/"
        assert "Take the override" in words(office.post(end))
        assert "Under a willow" in text_of(f"/rules/{rule.uid}/")
        office.post(end, {"sure": "1"})
        assert "Under a willow" not in text_of(f"/rules/{rule.uid}/")

    def test_a_rule_of_ones_own_in_two_steps(self, office, text_of):
        assert "Next: its numbers and words" in text_of("/rules/add/")
        wrong = text_of("/rules/add/?kind=outfall&task=test_pump&basis=calendar")
        assert "Not a task of an outfall" in wrong
        path = "/rules/add/?kind=outfall&task=look&basis=calendar"
        given = {
            "n_every_months": "4",
            "standing": "firm",
            "minutes": "10",
            "who": "crew",
            "words_office": "Look at the outfall three times a year",
            "words_homeowner": "We look where the water comes out.",
            "source": "common practice, no source",
            "why": "Turf grows fast",
        }
        assert office.post(path, {**given, "n_every_months": "0"}).status_code == 422
        assert office.post(path, given).status_code == 302
        rule = Rule.objects.get(origin="company")
        assert rule.versions.get().numbers == {"every_months": 4.0}


class TestCompany:
    def test_every_setting_has_a_field_and_nothing_more(self):
        assert sorted(name for _, names in PARTS for name in names) == sorted(company.Company.model_fields)
        assert all(field.help_text for field in CompanyForm.base_fields.values())

    def test_sent_back_untouched_changes_nothing(self, office):
        sent = as_sent(CompanyForm(initial=first_values(company.at(AT))))
        assert "Nothing differs" in words(office.post("/company/", sent, follow=True))
        assert not CompanySettings.objects.exists()

    def test_a_change_is_a_version(self, office):
        sent = as_sent(CompanyForm(initial=first_values(company.at(AT))))
        sent |= {"answer_days": "7", "leaf_months": ["9", "10"], "send_time": "07:30", "quiet_until": "07:00"}
        assert "Kept:" in words(office.post("/company/", sent, follow=True))
        now = company.at(AT)
        assert (now.answer_days, now.leaf_months, f"{now.send_time:%H:%M}") == (7, [9, 10], "07:30")
        assert "Days to answer an offer [days]: 5 to 7" in words(office.get("/company/"))

    @pytest.mark.parametrize(
        ("name", "value"),
        [
            ("answer_days", "0"),
            ("climate_mm", "1 2 3"),
            ("zone", "Mars/Base"),
            ("tolerance_lawn", "1"),
            ("yard_lat", "91"),
        ],
    )
    def test_refused_beside_the_field(self, office, name, value):
        sent = as_sent(CompanyForm(initial=first_values(company.at(AT)))) | {name: value}
        answer = office.post("/company/", sent)
        assert answer.status_code == 422
        assert f'href="#id_{name}"' in answer.content.decode()
        assert not CompanySettings.objects.exists()


class TestTokens:
    def test_shown_once_and_revoked_after_a_question(self, cast, office, text_of):
        answer = office.post("/company/tokens/", {"label": "wall screen", "days": "30"})
        secret = answer.content.decode().split('id="secret" value="')[1].split('"')[0]
        token = tokens.find(secret, kind="api", at=AT)
        assert (token.user, token.expires_at) == (cast.office, AT + timedelta(days=30))
        assert secret not in text_of("/company/tokens/")
        path = f"/company/tokens/{token.uid}/revoke/"
        assert "Revoke the token" in words(office.post(path))
        assert tokens.find(secret, kind="api", at=AT) is not None
        office.post(path, {"sure": "1"})
        assert tokens.find(secret, kind="api", at=AT) is None

    def test_another_persons_token_is_not_there(self, cast, office):
        other = tokens.issue(act=cast.act("crew"), kind="api", label="x", user=cast.crew)[0]
        assert office.post(f"/company/tokens/{other.uid}/revoke/", {"sure": "1"}).status_code == 404
        assert Token.objects.get(pk=other.pk).revoked_at is None

    def test_refused(self, office):
        for given in ({"label": "", "days": "3"}, {"label": "x", "days": "400"}):
            assert office.post("/company/tokens/", given).status_code == 422


class TestFeeds:
    def test_made_shown_once_renewed_ended(self, cast, office, text_of):
        answer = office.post("/company/feeds/", {"whose": str(cast.crew.uid), "label": "van", "alarm_minutes": "60"})
        text = answer.content.decode()
        assert 'href="webcal:' in text
        assert "<svg" in text
        address = text.split('id="address" value="')[1].split('"')[0]
        path = "/" + address.split("/", 3)[3]
        assert b"BEGIN:VCALENDAR" in office.get(path).content
        assert address not in text_of("/company/feeds/")
        feed = Feed.objects.get()
        assert (feed.kind, feed.user, feed.alarm_minutes) == ("technician", cast.crew, 60)
        assert "A new address for" in words(office.post(f"/company/feeds/{feed.uid}/renew/"))
        office.post(f"/company/feeds/{feed.uid}/renew/", {"sure": "1"})
        assert office.get(path).status_code == 410
        fresh = Feed.objects.get(revoked_at=None)
        office.post(f"/company/feeds/{fresh.uid}/revoke/", {"sure": "1"})
        assert not Feed.objects.filter(revoked_at=None).exists()

    def test_company_and_nonsense(self, office):
        assert office.post("/company/feeds/", {"whose": "company"}).status_code == 200
        assert Feed.objects.get().kind == "company"
        assert office.post("/company/feeds/", {"whose": "nobody"}).status_code == 422


class TestAgreements:
    def test_recorded_changed_ended(self, cast, office, text_of):
        rule_service.install_library(act=cast.act("office"))
        ComponentFactory(system=SystemFactory(property=cast.property))
        path = f"/properties/{cast.property.uid}/agreements/add/"
        given = {
            "customer": str(cast.homeowner.uid),
            "price": "385.50",
            "starts_on": "2026-01-01",
            "ends_on": "2026-12-31",
            "rules": ["catch_basin_half"],
        }
        assert office.post(path, given).status_code == 302
        row = ServiceAgreement.objects.get()
        assert (row.price_cents, row.customer) == (38_550, cast.homeowner)
        assert list(row.rules.values_list("code", flat=True)) == ["catch_basin_half"]
        assert "$385.50" in text_of("/agreements/")
        assert office.post(path, given).status_code == 422  # one runs already
        own = f"/agreements/{row.uid}/"
        changed = {**given, "price": "400", "revision": row.revision}
        office.post(own, changed)
        row.refresh_from_db()
        assert row.price_cents == 40_000
        assert office.post(own, changed).status_code == 422  # the revision moved on
        assert office.post(f"{own}end/", {"on": str(TODAY), "why": "Sold"}).status_code == 422  # not sure
        office.post(f"{own}end/", {"on": str(TODAY), "why": "Sold", "sure": "on"})
        row.refresh_from_db()
        assert row.ends_on == TODAY

    def test_who_moved_away_and_what_went_stays_to_be_chosen(self, cast, office):
        """A form sent back untouched must not drop a person or a rule it does not list any more."""
        rule_service.install_library(act=cast.act("office"))
        row = ServiceAgreement.objects.create(
            property=cast.property, customer=cast.homeowner, starts_on=TODAY, ends_on=TODAY, created_at=AT
        )
        row.rules.add(Rule.objects.get(code="channel_third"))
        cast.homeowner.roles.update(until_date=TODAY - timedelta(days=1))
        PropertyRoleFactory(property=cast.property)
        form = office.get(f"/agreements/{row.uid}/").context["form"]
        office.post(f"/agreements/{row.uid}/", {**as_sent(form), "revision": row.revision})
        row.refresh_from_db()
        assert row.customer == cast.homeowner
        assert row.rules.get().code == "channel_third"

    def test_refused_beside_the_field(self, cast, office):
        given = {"price": "-1", "starts_on": "2026-02-01", "ends_on": "2026-01-01"}
        answer = office.post(f"/properties/{cast.property.uid}/agreements/add/", given)
        assert answer.status_code == 422
        assert 'href="#id_price"' in answer.content.decode()
        answer = office.post(f"/properties/{cast.property.uid}/agreements/add/", {**given, "price": "1"})
        assert 'href="#id_ends_on"' in answer.content.decode()
