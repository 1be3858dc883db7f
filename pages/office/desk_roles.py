"""Who may open the desk: the office alone."""

LOOK = {"office": "GET"}
ACT = {"office": "POST"}
BOTH = {"office": "GET POST"}

ROWS: dict[str, dict[str, str]] = {
    "pages:due": LOOK,
    "pages:due_propose": ACT,
}
