"""Who may open the office pages."""

from pages.office.desk_roles import ROWS as DESK
from pages.office.register_roles import ROWS as REGISTER

ROWS: dict[str, dict[str, str]] = {**DESK, **REGISTER}
