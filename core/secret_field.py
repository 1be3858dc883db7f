"""A text column encrypted at rest (gate codes). Keys: settings.FIELD_KEYS, newest first; old keys still read."""

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from django.conf import settings
from django.db import models


def _box() -> MultiFernet:
    return MultiFernet([Fernet(key) for key in settings.FIELD_KEYS])


class SecretField(models.TextField):
    """Plain text in Python, a Fernet token in the database; never filtered on. Unreadable values come back as ""."""

    def get_prep_value(self, value):
        return _box().encrypt(value.encode()).decode() if value else ""

    def from_db_value(self, value, expression, connection):
        if not value:
            return ""
        try:
            return _box().decrypt(value.encode()).decode()
        except InvalidToken:
            return ""
