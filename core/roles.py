"""Who may use which route: an allow-list of route name x method per role. What is not listed is refused."""

from collections.abc import Mapping

ROLES = ("office", "crew", "homeowner", "nobody")


class RoleTable:
    """A literal table {route name: {role: "GET POST"}}; HEAD and OPTIONS follow GET.

    Raises ValueError on an unknown role, so that a slip of the pen does not silently refuse.
    """

    def __init__(self, rows: Mapping[str, Mapping[str, str]]) -> None:
        self.rows: dict[str, dict[str, frozenset[str]]] = {}
        for route, roles in rows.items():
            for role in roles:
                if role not in ROLES:
                    raise ValueError(f"{route}: role {role!r} is not one of {', '.join(ROLES)}")
            self.rows[route] = {role: frozenset(methods.split()) for role, methods in roles.items()}

    def allows(self, role: str, route: str, method: str) -> bool:
        """True where this role may send this method to this route."""
        methods = self.rows.get(route, {}).get(role, frozenset())
        if method in {"HEAD", "OPTIONS"}:
            return "GET" in methods or (method == "OPTIONS" and bool(methods))
        return method in methods

    def methods(self, role: str, route: str) -> frozenset[str]:
        """Methods listed for this role and route."""
        return self.rows.get(route, {}).get(role, frozenset())
