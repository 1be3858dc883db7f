"""Secrets handed out once: API tokens, homeowner links, feed addresses. Stored as lookup part and keyed hash."""

import hmac
import secrets
from datetime import datetime, timedelta
from hashlib import sha256

from django.conf import settings

from core.act import Act
from core.models import Token, User
from core.problem import BadInput

API_DAYS = 90
LINK_DAYS = 60
LAST_USE_STEP = timedelta(minutes=10)


def new_secret(prefix: str) -> tuple[str, str, str]:
    """(whole secret, lookup part, hash). 128 random bits behind a prefix that names the kind."""
    lookup = secrets.token_hex(6)
    rest = secrets.token_urlsafe(22)
    whole = f"{prefix}_{lookup}_{rest}"
    return whole, lookup, hashed(whole)


def hashed(whole: str) -> str:
    """Keyed hash as stored."""
    return hmac.new(settings.SECRET_KEY.encode(), whole.encode(), sha256).hexdigest()


def lookup_of(whole: str) -> str:
    """The public look-up part of a secret, "" if it has no such form."""
    parts = whole.split("_", 2)
    return parts[1] if len(parts) == 3 and len(parts[1]) == 12 else ""


def issue(
    *,
    act: Act,
    kind: str,
    label: str,
    user: User | None = None,
    holder_uid=None,
    days: int | None = None,
    scope: dict | None = None,
) -> tuple[Token, str]:
    """Make a token and return it with its plain text, which is shown once and never stored.

    `kind` is one of Token.Kind; `days` until it expires (API_DAYS or LINK_DAYS by default).
    """
    if kind not in Token.Kind.values:
        raise BadInput(f"Token kind {kind!r} is not known; use one of {', '.join(Token.Kind.values)}.")
    whole, lookup, digest = new_secret({"api": "slt", "link": "slh"}[kind])
    life = days if days is not None else (API_DAYS if kind == Token.Kind.API else LINK_DAYS)
    token = Token.objects.create(
        kind=kind,
        label=label[:80],
        lookup=lookup,
        digest=digest,
        user=user,
        holder_uid=holder_uid,
        scope=scope or {},
        created_at=act.at,
        expires_at=act.at + timedelta(days=life),
    )
    return token, whole


def find(whole: str, *, kind: str, at: datetime) -> Token | None:
    """The live token with this plain text, or None. Does not say why: unknown, revoked and expired look alike."""
    lookup = lookup_of(whole)
    if not lookup:
        return None
    token = Token.objects.select_related("user").filter(lookup=lookup, kind=kind).first()
    if token is None or not hmac.compare_digest(token.digest, hashed(whole)):
        return None
    if token.revoked_at is not None or token.expires_at <= at:
        return None
    if token.user is not None and not token.user.is_active:
        return None
    return token


def note_use(token: Token, *, at: datetime) -> None:
    """Remember the last use, at most once in ten minutes."""
    if token.last_used_at is None or at - token.last_used_at > LAST_USE_STEP:
        Token.objects.filter(pk=token.pk).update(last_used_at=at)


def revoke(*, act: Act, token: Token) -> None:
    """End a token now. Doing it twice changes nothing."""
    Token.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=act.at)
