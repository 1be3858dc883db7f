"""Checks who the people of each property are, and finds the customers and roles the register has already.

Without a uid a customer is the one of the same name with a role at that property, else the one of the same name and
e-mail address, else of the same name and phone number.
"""

from typing import Any
from uuid import UUID

from core import normalise
from jobs import field_checks as checks
from jobs import people
from jobs.exchange import present
from jobs.exchange.check_places import is_of, numbers_of
from jobs.exchange.checking import Checking, checked, column_of, keep_spelling, read_said
from jobs.exchange.columns import PEOPLE
from jobs.exchange.drafts import CustomerDraft, PropertyDraft, RoleDraft
from jobs.exchange.present import AtProperty
from jobs.models import Customer, PropertyRole

DATES: dict[str, checks.Check] = {"from_date": checks.day(), "until_date": checks.day()}


def check_people(checking: Checking, there: dict[int, AtProperty]) -> None:
    """Make the customers of the file and their roles, each person once."""
    told = [
        person
        for home in checking.draft.properties
        for role in PEOPLE
        for number in numbers_of(home, role)
        if (person := _Told.read(checking, home, role, number)) is not None
    ]
    uids = {person.uid for person in told if person.uid is not None}
    known = present.customers(uids=uids, names={str(person.customer["name"]) for person in told})
    people_of = _People(checking, known, there)
    # Those with a uid first, then with an e-mail address, so that the same person with less elsewhere joins them.
    for person in sorted(told, key=lambda person: (person.uid is None, not person.customer.get("email"))):
        people_of.place(person)
    _keep_names(checking)
    _refuse_foreign_roles(checking)


class _Told:
    """One person as the rows of a property tell it."""

    def __init__(self, home: PropertyDraft, role: str, stem: str, row: int) -> None:
        self.home, self.role, self.stem, self.row = home, role, stem, row
        self.uid: UUID | None = None
        self.role_uid: UUID | None = None
        self.customer: dict[str, Any] = {}
        self.rights: dict[str, Any] = {}
        self.dates: dict[str, Any] = {}

    @classmethod
    def read(cls, checking: Checking, home: PropertyDraft, role: str, number: int) -> "_Told | None":
        names = [name for name in home.said if is_of(name, role, number)]
        stem = role if number == 1 else f"{role}_{number}"
        told = cls(home, role, stem, min(home.said[name][1] for name in names))
        read = read_said(checking, home.said, names)

        def within(table: dict[str, checks.Check], noun: str) -> dict[str, Any]:
            chosen = {name: cell for name, cell in read.items() if column_of(name).field in table}
            return checked(checking, noun, table, chosen)

        told.customer = within(people.CUSTOMER, "customer")
        told.rights = within(people.RIGHTS, "role")
        told.dates = within(DATES, "role")
        told.uid = read[f"{stem}_uid"][0].value if f"{stem}_uid" in read else None
        told.role_uid = read[f"{stem}_role_uid"][0].value if f"{stem}_role_uid" in read else None
        if told.customer.get("name"):
            return told
        if f"{stem}_name" not in home.said:
            words = f"{stem}_name is empty: name the {role}, or empty the other cells of that person."
            checking.refuse(told.row, f"{stem}_name", words)
        return None


class _People:
    """Customers of the file, each once, with the register's customer they are."""

    def __init__(self, checking: Checking, known: list[Customer], there: dict[int, AtProperty]) -> None:
        self._checking = checking
        self._there = there
        self._known_uids = {customer.uid: customer for customer in known}
        self._known_keys: dict[tuple[str, ...], Customer] = {}
        for customer in known:
            for key in _keys(customer.name, customer.email, customer.phone):
                self._known_keys.setdefault(key, customer)
        self._by_uid: dict[UUID, CustomerDraft] = {}
        self._by_key: dict[tuple[Any, ...], CustomerDraft] = {}
        self._by_record: dict[int, CustomerDraft] = {}

    def place(self, told: _Told) -> None:
        """Give the property its role, with the customer new or found."""
        customer = self._customer(told)
        self._merge(customer, told)
        draft = RoleDraft(told.home, customer, told.row, {"role": told.role, **told.rights}, uid=told.role_uid)
        draft.until_date = told.dates.get("until_date")
        if told.dates.get("from_date") is not None:
            draft.values["from_date"] = told.dates["from_date"]
        draft.existing = self._role_there(draft)
        if draft.existing is None:
            draft.values.setdefault("from_date", self._checking.today)
        self._refuse_contradictions(draft, told.stem)
        told.home.roles.append(draft)

    def _customer(self, told: _Told) -> CustomerDraft:
        keys = _keys(*(str(told.customer.get(name, "")) for name in ("name", "email", "phone")))
        local = ("at", id(told.home), normalise.folded(told.customer["name"]))
        existing = self._existing(told, keys)
        draft = self._by_uid.get(told.uid) if told.uid is not None else None
        if draft is None and existing is not None:
            draft = self._by_record.get(existing.pk)
        if draft is None and told.uid is None:
            draft = next((self._by_key[key] for key in keys[:1] if key in self._by_key), None)
            draft = draft or self._namesake(local, told)
        if draft is None:
            draft = CustomerDraft(told.row, {}, {}, told.uid, existing)
            self._checking.draft.customers.append(draft)
        if told.uid is not None:
            self._by_uid[told.uid] = draft
        if draft.existing is not None:
            self._by_record[draft.existing.pk] = draft
        for key in (*keys, local):
            self._by_key.setdefault(key, draft)
        return draft

    def _namesake(self, local: tuple[Any, ...], told: _Told) -> CustomerDraft | None:
        """The person of that name at that property, unless the e-mail addresses say that they are two."""
        draft = self._by_key.get(local)
        emails = {str(values.get("email", "")).casefold() for values in (draft.values if draft else {}, told.customer)}
        return draft if len(emails - {""}) < 2 else None

    def _existing(self, told: _Told, keys: list[tuple[str, ...]]) -> Customer | None:
        if told.uid is not None:
            return self._known_uids.get(told.uid)
        home = told.home.existing
        roles = self._there[home.pk].roles if home is not None else []
        name = normalise.folded(told.customer["name"])
        here = [role for role in roles if normalise.folded(role.customer.name) == name]
        email = str(told.customer.get("email", "")).casefold()
        here.sort(
            key=lambda role: (
                role.customer.email.casefold() != email,
                role.role != told.role,
                role.until_date is not None,
            )
        )
        if here:
            return here[0].customer
        return next((self._known_keys[key] for key in keys[:1] if key in self._known_keys), None)

    def _merge(self, draft: CustomerDraft, told: _Told) -> None:
        for field, value in told.customer.items():
            column = f"{told.stem}_{field}"
            if field in draft.values and not _same(field, draft.values[field], value):
                words = (
                    f"{column} is {checks.shown(value)!r} here but {checks.shown(draft.values[field])!r} in row "
                    f"{draft.said_by[field]}: the same person has one; mend one, or leave one empty."
                )
                self._checking.refuse(told.home.said.get(column, ("", told.row))[1], column, words, value)
            elif field not in draft.values:
                draft.values[field] = value
                draft.said_by[field] = told.row

    def _role_there(self, draft: RoleDraft) -> PropertyRole | None:
        if draft.at.existing is None:
            return None
        roles = self._there[draft.at.existing.pk].roles
        if draft.uid is not None:
            return next((role for role in roles if role.uid == draft.uid), None)
        if draft.customer.existing is None:
            return None
        mine = [
            role
            for role in roles
            if role.customer_id == draft.customer.existing.pk and role.role == draft.values["role"]
        ]
        if draft.until_date is None:
            return next((role for role in mine if role.until_date is None), None)
        same = (draft.values.get("from_date"), draft.until_date)
        return next((role for role in mine if (role.from_date, role.until_date) == same), None)

    def _refuse_contradictions(self, draft: RoleDraft, stem: str) -> None:
        begun, until = draft.values.get("from_date"), draft.until_date
        if begun is not None and until is not None and until < begun:
            words = f"{stem}_until is {until}: give a day from {begun} on, when the role began."
            self._checking.refuse(draft.row, f"{stem}_until", words, until)
        there = draft.existing
        if there is not None:
            if begun is not None and begun != there.from_date:
                words = f"{stem}_from is {begun}, but the register says {there.from_date}: leave it empty."
                self._checking.refuse(draft.row, f"{stem}_from", words, begun)
            if until is not None and until != there.until_date:
                words = f"{stem}_until is {until}: a role is ended on the property's page, not by a file."
                self._checking.refuse(draft.row, f"{stem}_until", words, until)
        open_twice = any(
            other.customer is draft.customer
            and other.values["role"] == draft.values["role"]
            and other.until_date is None
            and until is None
            for other in draft.at.roles
        )
        if open_twice:
            words = f"{stem}_name names the same person twice as {draft.values['role']}: empty one."
            self._checking.refuse(draft.row, f"{stem}_name", words, draft.customer.values.get("name"))


def _keys(name: str, email: str, phone: str) -> list[tuple[str, ...]]:
    """What tells a person apart besides a uid: name with e-mail, name with phone."""
    who = normalise.folded(name)
    keys: list[tuple[str, ...]] = [("email", who, email.casefold())] if email else []
    return keys + ([("phone", who, normalise.digits(phone))] if normalise.digits(phone) else [])


def _same(field: str, first: Any, second: Any) -> bool:
    if field in ("name", "email"):
        return normalise.folded(first) == normalise.folded(second)
    return bool(first == second)


def _keep_names(checking: Checking) -> None:
    for draft in checking.draft.customers:
        if draft.existing is not None and draft.uid is None:
            keep_spelling(draft.values, draft.existing, "name", "email")


def _refuse_foreign_roles(checking: Checking) -> None:
    roles = [role for home in checking.draft.properties for role in home.roles]
    taken = present.taken(PropertyRole, {role.uid for role in roles if role.uid is not None})
    for role in roles:
        if role.existing is None and role.uid in taken:
            words = f"The role's uid {role.uid} belongs to another property: empty the cell."
            checking.refuse(role.row, f"{role.values['role']}_role_uid", words, str(role.uid))
