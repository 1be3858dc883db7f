"""Who may open the crew pages."""

ROWS = {
    "pages:crew_day": {"crew": "GET"},
    "pages:crew_pick": {"crew": "GET"},
    "pages:crew_date": {"crew": "GET"},
    "pages:crew_find": {"crew": "GET"},
    "pages:crew_visit": {"crew": "GET"},
    "pages:crew_begin": {"crew": "POST"},
    "pages:crew_gate_code": {"crew": "POST"},
    "pages:crew_closeout": {"crew": "GET POST"},
    "pages:crew_property": {"crew": "GET"},
}
