"""Who may open the homeowner pages."""

EVERYONE = ("nobody", "office", "crew", "homeowner")

ROWS = {
    "pages:home_link": dict.fromkeys(EVERYONE, "GET POST"),
    "pages:home_new_link": dict.fromkeys(EVERYONE, "GET POST"),
    "pages:visit_link": dict.fromkeys(EVERYONE, "GET"),
    "pages:home_leave": {"homeowner": "POST"},
    "pages:home_drains": {"homeowner": "GET"},
    "pages:home_property": {"homeowner": "GET"},
    "pages:home_visits": {"homeowner": "GET"},
    "pages:home_visit": {"homeowner": "GET"},
    "pages:home_messages": {"homeowner": "GET POST"},
    "pages:home_calendar": {"homeowner": "GET"},
    "pages:home_calendar_new": {"homeowner": "POST"},
    "pages:home_calendar_renew": {"homeowner": "POST"},
    "pages:home_calendar_end": {"homeowner": "POST"},
    "pages:home_agree": {"homeowner": "POST"},
    "pages:home_another_day": {"homeowner": "POST"},
    "pages:home_task_done": {"homeowner": "POST"},
    "pages:home_tell": {"homeowner": "POST"},
}
