"""The demo's ways in: passwords, tokens, a homeowner's link and feed addresses, kept in var/demo.json (owner only).

Only for the demo company: secrets are stored in plain text here so that a newcomer can sign in. A deleted file is
made anew with new secrets, and the old ones end.
"""

import json
import os
import secrets
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from core import tokens
from core.act import Act, by_system
from core.models import Token, User
from jobs.models import Customer
from maintenance import feeds
from maintenance.demo import people
from maintenance.demo.register import uid
from maintenance.messages.links import home_address
from maintenance.models import Feed, Visit

LABEL = "demo"


@dataclass(frozen=True)
class WaysIn:
    """What demo.json holds."""

    base: str
    office: dict[str, str]
    technician: dict[str, str]
    homeowner: str
    feeds: list[dict[str, str]]

    def as_json(self) -> dict[str, Any]:
        """The file's content."""
        return {
            "base": self.base,
            "office": self.office,
            "technician": self.technician,
            "homeowner": self.homeowner,
            "feeds": self.feeds,
            "note": "demo only: every secret here opens an invented company",
        }


def is_demo() -> bool:
    """The database holds the demo company."""
    return User.objects.filter(uid=uid("user", people.OFFICE[0])).exists()


def path() -> Path:
    """Where the ways in are kept."""
    return Path(settings.VAR_DIR) / "demo.json"


def ways_in(*, at: datetime) -> WaysIn:
    """The ways in from the file, or new ones where it is gone, unreadable or for another address."""
    try:
        kept = json.loads(path().read_text())
        found = WaysIn(**{name: kept[name] for name in ("base", "office", "technician", "homeowner", "feeds")})
    except (OSError, ValueError, KeyError, TypeError):
        return _renew(by_system("demo", at=at, via="demo"))
    return found if found.base == settings.PUBLIC_URL else _renew(by_system("demo", at=at, via="demo"))


def _renew(act: Act) -> WaysIn:
    with transaction.atomic():
        Token.objects.filter(label=LABEL, revoked_at=None).update(revoked_at=act.at)
        for feed in Feed.objects.filter(label=LABEL, revoked_at=None):
            feeds.revoke_feed(act=act, feed=feed)
        made = WaysIn(
            base=settings.PUBLIC_URL,
            office=_sign_in(act, people.OFFICE[0]),
            technician=_sign_in(act, people.CREW[0][0]),
            homeowner=_link(act),
            feeds=_feeds(act),
        )
    _keep(made)
    return made


def _sign_in(act: Act, username: str) -> dict[str, str]:
    user = User.objects.get(username=username)
    password = f"{secrets.choice(people.FIRST).lower()}-{secrets.token_hex(5)}"
    user.set_password(password)
    user.save(update_fields=["password"])
    _, token = tokens.issue(act=act, kind=Token.Kind.API, label=LABEL, user=user)
    return {"user": username, "password": password, "token": token}


def _homeowner() -> Customer:
    """Whoever has a day agreed soonest: their page has something to show."""
    visit = Visit.objects.filter(state=Visit.State.AGREED).order_by("local_date", "id").first()
    roles = visit.property.roles if visit else None
    role = roles.filter(until_date=None).order_by("id").first() if roles is not None else None
    return role.customer if role else Customer.objects.order_by("id")[0]


def _link(act: Act) -> str:
    _, secret = tokens.issue(act=act, kind=Token.Kind.LINK, label=LABEL, holder_uid=_homeowner().uid)
    return home_address(secret)


def _feeds(act: Act) -> list[dict[str, str]]:
    technician = User.objects.get(username=people.CREW[0][0])
    _, company = feeds.issue_feed(act=act, kind="company", label=LABEL)
    _, crew = feeds.issue_feed(act=act, kind="technician", user=technician, label=LABEL)
    _, home = feeds.issue_feed(act=act, kind="homeowner", customer=_homeowner(), label=LABEL)
    return [
        {"kind": "company", "address": feeds.address_of(company)},
        {"kind": "technician", "address": feeds.address_of(crew)},
        {"kind": "homeowner", "address": feeds.address_of(home)},
    ]


def _keep(made: WaysIn) -> None:
    part = path().with_name(f".demo.{os.getpid()}.part")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "w") as handle:
        json.dump(made.as_json(), handle, indent=1)
    part.replace(path())
