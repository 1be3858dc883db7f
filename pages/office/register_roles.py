"""Who may open the register's pages."""

ROWS: dict[str, dict[str, str]] = {
    "pages:properties": {"office": "GET"},
    "pages:property": {"office": "GET"},
    "pages:property_history": {"office": "GET"},
    "pages:component": {"office": "GET"},
}
