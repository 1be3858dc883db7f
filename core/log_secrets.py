"""Keeps secrets that stand in addresses (links, feeds, tokens, signed values) out of every log line."""

import logging
import re

_SECRET = re.compile(r"\b(sl[a-z])_([0-9a-f]{12})_[A-Za-z0-9_-]+")
_SIGNED = re.compile(r"(/stop/)[^/\s\"']+")


def masked(text: str) -> str:
    """`text` with the secret part of tokens and signed values left out; the look-up part stays, to find the row by.

    >>> masked("Gone: /feeds/slf_0123456789ab_AbC-9.ics")
    'Gone: /feeds/slf_0123456789ab_….ics'
    """
    return _SIGNED.sub(r"\1…", _SECRET.sub(r"\1_\2_…", text))


class HideSecrets(logging.Filter):
    """For a handler: the line as written carries no secret, whichever logger it came from."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Never drops a record."""
        said = record.getMessage()
        hidden = masked(said)
        if hidden != said:
            record.msg, record.args = hidden, ()
        return True
