"""Tests that really commit empty the database afterwards, which the guard of the history would refuse."""

import pytest

from core.history import remove_guard


@pytest.fixture(autouse=True)
def history_can_be_emptied(request):
    """Drop the guard for tests marked transaction=True; what needs the guard installs it itself."""
    marker = request.node.get_closest_marker("django_db")
    if marker is not None and marker.kwargs.get("transaction"):
        request.getfixturevalue("transactional_db")
        remove_guard()
