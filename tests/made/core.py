"""Factories for the records of core. All people and addresses are invented."""

import hashlib
import uuid

import factory

from core.models import CompanySettings, Heartbeat, History, Message, StoredFile, Suppression, Token, User
from tests.made.times import AT


class UserFactory(factory.django.DjangoModelFactory):
    """A technician; the password is "correct horse battery"."""

    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    first_name = factory.Sequence(lambda n: f"Person{n}")
    last_name = "Invented"
    email = factory.LazyAttribute(lambda o: f"{o.username}@company.invalid")
    role = User.Role.CREW
    password = factory.django.Password("correct horse battery")


class OfficeFactory(UserFactory):
    """Someone of the office."""

    username = factory.Sequence(lambda n: f"office{n}")
    role = User.Role.OFFICE


class TokenFactory(factory.django.DjangoModelFactory):
    """A token row whose plain text nobody knows; to sign in use core.tokens.issue."""

    class Meta:
        model = Token

    kind = Token.Kind.API
    label = "test"
    lookup = factory.Sequence(lambda n: f"{n:012x}")
    digest = factory.LazyAttribute(lambda o: hashlib.sha256(o.lookup.encode()).hexdigest())
    user = factory.SubFactory(UserFactory)
    created_at = AT
    expires_at = factory.LazyAttribute(lambda o: o.created_at.replace(year=o.created_at.year + 1))


class HistoryFactory(factory.django.DjangoModelFactory):
    """One history entry."""

    class Meta:
        model = History

    act_id = factory.LazyFunction(uuid.uuid4)
    at = AT
    who = "system:test"
    via = "task"
    noun = "property"
    object_uid = factory.LazyFunction(uuid.uuid4)
    action = "create"


class MessageFactory(factory.django.DjangoModelFactory):
    """A message waiting to be sent."""

    class Meta:
        model = Message

    key = factory.Sequence(lambda n: f"test:{n}")
    kind = "agreed"
    to_address = "someone@home.invalid"
    subject = "A visit"
    text = "We come on Monday."
    message_id = factory.LazyAttribute(lambda o: f"<{o.key}@siltline.invalid>")
    created_at = AT
    due_at = AT
    next_attempt_at = AT


class SuppressionFactory(factory.django.DjangoModelFactory):
    """An address that gets nothing any more."""

    class Meta:
        model = Suppression

    address = factory.Sequence(lambda n: f"gone{n}@home.invalid")
    reason = "asked"
    since = AT


class HeartbeatFactory(factory.django.DjangoModelFactory):
    """A sign of life."""

    class Meta:
        model = Heartbeat

    name = factory.Sequence(lambda n: f"part{n}")
    at = AT


class CompanySettingsFactory(factory.django.DjangoModelFactory):
    """A version of the company's settings; `values` may be partial only through core.company.change."""

    class Meta:
        model = CompanySettings

    recorded_at = AT
    recorded_by = "system:test"
    values = factory.LazyFunction(dict)


class StoredFileFactory(factory.django.DjangoModelFactory):
    """The row of a file without its bytes; to have both use core.files.store."""

    class Meta:
        model = StoredFile

    sha256 = factory.Sequence(lambda n: hashlib.sha256(str(n).encode()).hexdigest())
    size_bytes = 100
    media_type = "image/jpeg"
    created_at = AT
