"""Finds properties by address, name, tag or phone: every word must match somewhere at the same property."""

import re

from django.db.models import Exists, OuterRef, Q, QuerySet

from core import normalise
from core.act import Act
from jobs.models import Component, Property, PropertyRole
from jobs.read import visible

LONGEST = 200
WORDS = 8
_PHONE = re.compile(r"\+?[\d()][\d\s().\-/]{3,}\d")
LEAST_DIGITS = 4


def find(act: Act, text: str, *, limit: int = 50) -> list[Property]:
    """At most `limit` visible properties that match `text`, by address; none for an empty text."""
    return list(matching(act, text).select_related("area")[:limit])


def matching(act: Act, text: str) -> QuerySet[Property]:
    """The same as a query set, for lists that page. Names and phones are those of people with a role in force."""
    terms = terms_of(text)
    rows = visible.properties(act)
    if not terms:
        return rows.none()
    day = visible.today(act)
    for term in terms:
        people = PropertyRole.objects.filter(visible.in_force(day), property=OuterRef("pk"))
        tags = Component.objects.filter(property=OuterRef("pk"), retired_on=None)
        person, tag, address = Q(), Q(), Q()
        for form in term:
            person |= Q(customer__search__contains=form)
            tag |= Q(tag_key__contains=form)
            address |= Q(search__contains=form)
        rows = rows.filter(address | Exists(people.filter(person)) | Exists(tags.filter(tag)))
    return rows.order_by("address", "id")


def terms_of(text: str) -> list[frozenset[str]]:
    """What must match: for each word the forms it may have. A phone number written with spaces is one word."""
    given = normalise.line(text, limit=LONGEST)
    terms = []
    for run in _PHONE.findall(given):
        digits = normalise.digits(run)
        if len(digits) >= 7:
            terms.append(frozenset({digits, digits[1:] if len(digits) == 11 and digits[0] == "1" else digits}))
            given = given.replace(run, " ", 1)
    for word in normalise.folded(given).split()[:WORDS]:
        forms = {word, normalise.tag_key(word)}
        digits = normalise.digits(word)
        if len(digits) >= LEAST_DIGITS and not re.search(r"[^\d()+.\-/]", word):
            forms.add(digits)
        terms.append(frozenset(form for form in forms if form))
    return terms
