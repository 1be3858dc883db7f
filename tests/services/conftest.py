import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.services.servers import Server, manage


@pytest.fixture(scope="session")
def set_up_once(tmp_path_factory) -> Path:
    """A data folder after `manage.py setup`."""
    folder = tmp_path_factory.mktemp("set-up")
    manage(folder, "setup")
    return folder


@pytest.fixture
def data_folder(set_up_once, tmp_path) -> Path:
    """A data folder of the test's own, set up."""
    folder = tmp_path / "var"
    shutil.copytree(set_up_once, folder)
    return folder


@pytest.fixture
def server(tmp_path) -> Iterator[Callable[..., Server]]:
    """Make servers on a folder of the test's own, or on the one given; nothing of them is left afterwards."""
    made: list[Server] = []

    def make(folder: Path | None = None, **options: object) -> Server:
        one = Server(folder or tmp_path, **options)
        made.append(one)
        return one

    yield make
    for one in made:
        one.clear()
