"""Who may open the office pages."""

ROWS: dict[str, dict[str, str]] = {}
