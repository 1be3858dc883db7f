"""What a test needs from the machine beyond Python, whether it is here, and how to get it."""

import os
import shutil
from pathlib import Path

HOW = {
    "postgres": "install PostgreSQL 15 or newer (Debian: apt-get install postgresql), or run the fast tests on one: "
    "DATABASE_URL=postgres://user@host/name",
    "redis": "install Redis 7 or newer (Debian: apt-get install redis-server)",
    "chromium": "install Chromium (Debian: apt-get install chromium fonts-liberation)",
    "node": "install Node.js 18 or newer (Debian: apt-get install nodejs)",
}


def postgres_program(name: str) -> str | None:
    """Path of initdb, postgres or pg_ctl; the newest version where Debian keeps several."""
    found = shutil.which(name)
    if found:
        return found
    places = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: float(path.parts[-3]))
    return str(places[-1]) if places else None


def is_here(need: str) -> bool:
    """Whether the program is installed."""
    if need == "postgres":
        return all(postgres_program(name) for name in ("initdb", "postgres"))
    programs = {"redis": ["redis-server"], "chromium": ["chromium", "chromium-browser"], "node": ["node"]}
    return any(shutil.which(program) for program in programs[need])


def required() -> set[str]:
    """Needs that may not be missing in this run: SILTLINE_REQUIRE=postgres,redis,chromium,node."""
    named = {part.strip() for part in os.environ.get("SILTLINE_REQUIRE", "").split(",") if part.strip()}
    unknown = named - HOW.keys()
    if unknown:
        raise ValueError(f"SILTLINE_REQUIRE names {', '.join(sorted(unknown))}; known are {', '.join(HOW)}")
    return named
