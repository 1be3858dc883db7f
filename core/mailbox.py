"""The embedded mail backend: each message is one .eml file in var/mail, written whole or not at all."""

import os
import secrets
from pathlib import Path

from django.conf import settings
from django.core.mail.backends.base import BaseEmailBackend

from core import clock


class Backend(BaseEmailBackend):
    """Writes `<time>-<address>.eml`; open them with any mail program."""

    def send_messages(self, email_messages) -> int:
        folder = Path(settings.EMAIL_FILE_PATH)
        folder.mkdir(parents=True, exist_ok=True)
        for message in email_messages:
            stamp = clock.now().strftime("%Y%m%dT%H%M%S.%f")
            who = "".join(c if c.isalnum() or c in "@.-_+" else "_" for c in message.to[0])[:80]
            name = f"{stamp}-{who}-{secrets.token_hex(3)}.eml"
            part = folder / f".{name}.part"
            part.write_bytes(message.message().as_bytes(linesep="\r\n"))
            os.replace(part, folder / name)
        return len(email_messages)
