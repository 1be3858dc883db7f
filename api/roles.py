"""Which role may send which method to which route of the API. A test fails when a route is missing here."""

from core.roles import RoleTable

OFFICE_ALL = "GET POST PUT PATCH DELETE"

TABLE = RoleTable({})
