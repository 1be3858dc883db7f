"""Addresses that go out in mail: the homeowner's link (a secret made as the mail leaves) and one-click unsubscribe."""

from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.core import signing

from core import tokens
from core.act import by_system
from core.models import Message, Token

LINK = "%%LINK%%"
WHEN = "%%WHEN%%"
_SALT = "siltline.unsubscribe"


def home_address(secret: str) -> str:
    """The address a homeowner opens; a GET only shows a button."""
    return f"{settings.PUBLIC_URL}/home/{secret}/"


def new_home_address(holder_uid: UUID, *, at: datetime, label: str) -> str:
    """Make a fresh link for this customer and return its address; only its hash is stored."""
    act = by_system("mail", at=at)
    _, secret = tokens.issue(act=act, kind=Token.Kind.LINK, label=label, holder_uid=holder_uid)
    return home_address(secret)


def unsubscribe_address(customer_uid: UUID, kind: str) -> str:
    """One-click unsubscribe (RFC 8058): opaque, signed, without expiry, names one person and one kind."""
    value = signing.Signer(salt=_SALT).sign_object([str(customer_uid), kind])
    return f"{settings.PUBLIC_URL}/stop/{value}/"


def read_unsubscribe(value: str) -> tuple[str, str] | None:
    """(customer uid, kind) of a signed value, or None where it was tampered with."""
    try:
        customer_uid, kind = signing.Signer(salt=_SALT).unsign_object(value)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    return customer_uid, kind


def mail_headers(customer_uid: UUID, kind: str, reply_to: str) -> dict[str, str]:
    """List-Unsubscribe (RFC 2369 3.2), one-click (RFC 8058 3.1) and the office as reply address."""
    headers = {
        "List-Unsubscribe": f"<{unsubscribe_address(customer_uid, kind)}>",
        "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
    }
    if reply_to:
        headers["Reply-To"] = reply_to
    return headers


def finish(message: Message, at: datetime, when_words: str) -> tuple[str, str]:
    """Text and HTML as they leave: a fresh link, and the day told as of now ("tomorrow", "today")."""
    text, html = message.text, message.html
    if LINK in text and message.holder_uid is not None:
        address = new_home_address(message.holder_uid, at=at, label=f"mail {message.kind}")
        text, html = text.replace(LINK, address), html.replace(LINK, address)
    return text.replace(WHEN, when_words), html.replace(WHEN, when_words)
