"""Names of static files carry a hash, also where our own modules import each other."""

import re

import pytest
from django.contrib.staticfiles.storage import HashedFilesMixin
from django.core.files.base import ContentFile

from siltline.static_storage import ModuleStorage


@pytest.fixture
def storage(tmp_path):
    return ModuleStorage(location=str(tmp_path), base_url="/static/")


def collect(storage: ModuleStorage, files: dict[str, str]) -> dict[str, str]:
    """Hashed name by name."""
    for name, text in files.items():
        storage.save(name, ContentFile(text.encode()))
    done = list(storage.post_process({name: (storage, name) for name in files}))
    assert not [problem for _, _, problem in done if isinstance(problem, Exception)]
    return {name: storage.stored_name(name) for name in files}


def read(storage: ModuleStorage, name: str) -> str:
    with storage.open(name) as handle:
        return handle.read().decode()


def test_the_private_pattern_it_leans_on_is_still_there():
    pattern = HashedFilesMixin._js_module_import_aggregation_patterns[1]
    assert any("import" in str(part) for part in pattern)


def test_an_import_in_our_module_gets_the_hashed_name(storage):
    named = collect(
        storage, {"crew/main.js": 'import { open } from "./store.js";\n', "crew/store.js": "export const open = 1;\n"}
    )
    assert re.fullmatch(r"crew/store\.[0-9a-f]{12}\.js", named["crew/store.js"])
    text = read(storage, named["crew/main.js"])
    assert f'"./{named["crew/store.js"].removeprefix("crew/")}"' in text


def test_an_import_shown_in_a_comment_of_a_packaged_script_is_left_alone(storage):
    shown = '// import { x } from "./not-here.js"\nexport const y = 2;\n'
    named = collect(storage, {"somepackage/z.js": shown})
    assert read(storage, named["somepackage/z.js"]) == shown
