"""The kept description of the API: what programs out there rely on.

After a deliberate change write it anew with `python -m tests.api.routes.openapi_snapshot` and read the difference.
"""

import json
from pathlib import Path

KEPT = Path(__file__).parent / "openapi.json"


def description() -> dict:
    """The OpenAPI description as the API serves it."""
    from drf_spectacular.generators import SchemaGenerator

    return SchemaGenerator().get_schema(request=None, public=True)


def text() -> str:
    return json.dumps(description(), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def main() -> None:
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    KEPT.write_text(text(), encoding="utf-8")


if __name__ == "__main__":
    main()
