"""The kept schemas and stored examples of the kinds.

Write them anew with `python -m tests.jobs.kinds.snapshots` after a deliberate change. A schema of a past version and a
stored example are never changed: raise the kind's version instead.
"""

import json
from pathlib import Path

from jobs.kinds import registry
from jobs.kinds.dimensions import json_schema

HERE = Path(__file__).parent
SCHEMAS = HERE / "schemas"
STORED = HERE / "stored"


def schema_text(code: str) -> str:
    return json.dumps(json_schema(registry.get(code)), indent=1, sort_keys=True) + "\n"


def schema_file(code: str) -> Path:
    return SCHEMAS / f"{code}.v{registry.get(code).version}.json"


def main() -> None:
    for kind in registry.ALL:
        schema_file(kind.code).write_text(schema_text(kind.code), encoding="utf-8")


if __name__ == "__main__":
    main()
