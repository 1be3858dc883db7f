"""Sizes, and who may do what: read from the source itself, so that no one has to remember."""

import ast
import math
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("siltline", "core", "hydraulics", "jobs", "maintenance", "api", "pages")
ALL_CODE = (*PACKAGES, "tests", "benchmarks")
FILE_MOST, FILE_P95 = 400, 330
FUNCTION_MOST, FUNCTION_P95 = 60, 35

# Inside core, jobs and maintenance these are not services: they may not write.
NOT_SERVICES = ("models", "decide", "read", "forecast", "planning", "calendar", "messages", "management", "kinds")
NOT_SERVICE_MODULES = ("tasks", "admin", "apps", "checks")
# Whole packages that only call services.
ONLY_CALLERS = ("siltline", "hydraulics", "api", "pages")
WRITES = {"save", "delete", "create", "acreate", "bulk_create", "bulk_update", "get_or_create", "update_or_create"}
BARRED = ("django.http", "django.shortcuts", "django.forms")

EXCEPTIONS = tomllib.loads((Path(__file__).with_name("budgets.toml")).read_text())


def sources(packages: tuple[str, ...]) -> list[Path]:
    """Our Python files, migrations left out."""
    found = [path for package in packages for path in sorted((ROOT / package).rglob("*.py"))]
    return [path for path in found if "migrations" not in path.parts]


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def p95(numbers: list[int]) -> int:
    """Smallest number that at least 95 % do not exceed (nearest rank)."""
    return sorted(numbers)[math.ceil(0.95 * len(numbers)) - 1]


def functions(path: Path) -> Iterator[tuple[str, int]]:
    """(file:function, lines from def to end) of each function of a file."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield f"{name_of(path)}:{node.name}", node.end_lineno - node.lineno + 1


def check_exceptions(kind: str, over: set[str]) -> None:
    allowed = set(EXCEPTIONS[kind]["over"])
    assert over - allowed == set(), f"{kind} over budget"
    assert allowed - over == set(), f"{kind}: no longer needed in budgets.toml; lower at_most too"
    assert len(allowed) <= EXCEPTIONS[kind]["at_most"]


def test_files_are_short():
    lengths = {name_of(path): len(path.read_text().splitlines()) for path in sources(ALL_CODE)}
    assert len(lengths) > 20
    check_exceptions("files", {name for name, length in lengths.items() if length > FILE_MOST})
    assert p95(list(lengths.values())) <= FILE_P95


def test_scripts_and_styles_are_short():
    for path in [*ROOT.glob("static/**/*.js"), *ROOT.glob("static/**/*.css")]:
        assert len(path.read_text().splitlines()) <= FILE_MOST, name_of(path)


def test_functions_are_short():
    lengths = dict(found for path in sources(ALL_CODE) for found in functions(path))
    check_exceptions("functions", {name for name, length in lengths.items() if length > FUNCTION_MOST})
    assert p95([length for name, length in lengths.items() if not name.startswith("tests/")]) <= FUNCTION_P95


def is_service(path: Path) -> bool:
    """Whether this module may write to the database: it lies beside models, decide and read, not in them."""
    package, *inner = path.relative_to(ROOT).with_suffix("").parts
    if package in ONLY_CALLERS:
        return False
    return not (set(inner[:-1]) & set(NOT_SERVICES)) and inner[-1] not in NOT_SERVICE_MODULES


def writes(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """(line, call) of each call that writes rows.

    `update` counts when it is called as a queryset's is, with keywords alone: dict.update takes a mapping.
    """
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        name = node.func.attr
        queryset_update = name == "update" and node.keywords and not node.args
        if queryset_update or name in WRITES:
            yield node.lineno, name


@pytest.mark.parametrize(
    ("code", "found"),
    [
        ("x.save()", ["save"]),
        ("Visit.objects.filter(a=1).update(state='agreed')", ["update"]),
        ("{}.update(other)", []),
        ("hash.update(b'x')", []),
        ("Visit.objects.bulk_create(rows)", ["bulk_create"]),
        ("visit.delete()", ["delete"]),
        ("def save(self): ...", []),
    ],
)
def test_the_search_for_writes_finds_them(code, found):
    assert [name for _, name in writes(ast.parse(code))] == found


def test_only_services_write():
    over = set()
    for path in sources(PACKAGES):
        if not is_service(path):
            over |= {f"{name_of(path)}: {name}" for _, name in writes(ast.parse(path.read_text()))}
    check_exceptions("writers", over)


def imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("package", ["jobs", "maintenance"])
def test_no_request_or_form_below_the_pages(package):
    for path in sources((package,)):
        barred = [name for name in imported(ast.parse(path.read_text())) if name.startswith(BARRED)]
        assert barred == [], name_of(path)


def test_package_files_are_empty():
    """So that pure modules import alone."""
    for path in sources(PACKAGES):
        if path.name == "__init__.py" and path.parent.parent == ROOT:
            assert path.read_text() == "", name_of(path)


def test_no_signals_and_no_catch_alls():
    for path in sources(PACKAGES):
        names = list(imported(ast.parse(path.read_text())))
        assert not [name for name in names if name.startswith(("django.db.models.signals", "django.dispatch"))], path
        assert path.stem not in {"utils", "helpers", "misc", "common"}, name_of(path)


def test_core_takes_only_units_from_hydraulics():
    for path in sources(("core",)):
        taken = {name for name in imported(ast.parse(path.read_text())) if name.startswith("hydraulics")}
        assert {name for name in taken if not name.startswith("hydraulics.units")} <= {"hydraulics"}, name_of(path)


def test_jobs_never_names_maintenance():
    """Not even a task by its name: what must follow a register write is seen by the revision."""
    for path in sources(("jobs",)):
        strings = [node.value for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Constant)]
        assert not [text for text in strings if isinstance(text, str) and text.startswith("maintenance.")], path
