"""Who does something, when, and by which door. Every service takes one as its first keyword argument."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal
from uuid import UUID, uuid4

from core import clock

Role = Literal["office", "crew", "homeowner", "system"]
Via = Literal["page", "api", "phone", "import", "command", "task", "link", "demo"]


@dataclass(frozen=True, slots=True)
class Act:
    """One operation: `who` is "user:<uid>", "customer:<uid>" or "system:<name>"; `at` is aware UTC.

    `user_id` and `customer_id` are database keys, for selectors that ask what this person may see.
    """

    who: str
    role: Role
    at: datetime
    via: Via
    id: UUID = field(default_factory=uuid4)
    user_id: int | None = None
    customer_id: int | None = None
    name: str = ""

    @property
    def is_office(self) -> bool:
        """True where everything of the company may be seen and changed."""
        return self.role in {"office", "system"}


def by_system(name: str, *, at: datetime | None = None, via: Via = "task") -> Act:
    """An act of the server itself, such as a sweep or a command."""
    return Act(who=f"system:{name}", role="system", at=at or clock.now(), via=via, name=name)


def by_user(user, *, via: Via, at: datetime | None = None) -> Act:
    """An act of a signed-in person of the company (`core.models.User`)."""
    return Act(
        who=f"user:{user.uid}",
        role=user.role,
        at=at or clock.now(),
        via=via,
        user_id=user.pk,
        name=user.display_name,
    )


def by_customer(customer, *, via: Via = "link", at: datetime | None = None) -> Act:
    """An act of a homeowner through a link (`jobs.models.Customer`). The name stays out of the history."""
    return Act(who=f"customer:{customer.uid}", role="homeowner", at=at or clock.now(), via=via, customer_id=customer.pk)
