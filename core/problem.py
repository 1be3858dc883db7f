"""Errors of the services, in words that say what to do. Doors turn them into pages or problem documents."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """One bad value: `field` as the person knows it, `value` as given, `message` naming the limit and unit."""

    field: str
    message: str
    value: object = None


class Problem(Exception):
    """Something asked for cannot be done. `status` is the HTTP status a door answers with."""

    status = 422
    title = "This cannot be done"

    def __init__(self, detail: str, *, fields: tuple[FieldProblem, ...] = (), code: str = "") -> None:
        super().__init__(detail)
        self.detail = detail
        self.fields = fields
        self.code = code or type(self).__name__.lower()


class BadInput(Problem):
    """A value is missing or out of range."""

    status = 422
    title = "Some values need another look"


class NotAllowed(Problem):
    """The person may not do this."""

    status = 403
    title = "Not allowed"


class Conflict(Problem):
    """Someone or something was here first: same id with another body, a move that is not possible any more."""

    status = 409
    title = "This was changed meanwhile"


class StaleVersion(Conflict):
    """The version the person edited is not the present one; both are shown."""

    status = 412
    title = "Someone else changed this first"
