"""Who may open the office pages."""

from pages.office.desk_roles import ROWS as DESK

ROWS: dict[str, dict[str, str]] = {**DESK}
