"""Who may open the register's pages: the office alone."""

from pages.office.register import corrections, edit_components, edit_parts, edit_places

FORMS = (*edit_places.FORMS, *edit_parts.FORMS, *edit_components.FORMS, *corrections.FORMS)

ROWS: dict[str, dict[str, str]] = {
    "pages:properties": {"office": "GET"},
    "pages:property": {"office": "GET"},
    "pages:property_history": {"office": "GET"},
    "pages:component": {"office": "GET"},
    "pages:component_history": {"office": "GET"},
    "pages:import_register": {"office": "GET POST"},
    "pages:export_register": {"office": "GET"},
    **{f"pages:{name}": {"office": "GET POST"} for name in FORMS},
}
