"""Checks a whole register file against itself and against the register. Nothing is written here."""

from dataclasses import dataclass

from core import clock, company
from core.act import Act
from core.problem import NotAllowed
from jobs.exchange import present
from jobs.exchange.check_links import check_parts
from jobs.exchange.check_parts import read_parts
from jobs.exchange.check_people import check_people
from jobs.exchange.check_places import check_hazards, check_properties, check_systems
from jobs.exchange.checking import Checking
from jobs.exchange.compare import Change, Counts, compare
from jobs.exchange.drafts import Draft
from jobs.exchange.found import CellProblem, Problems
from jobs.exchange.gather import gather
from jobs.exchange.table_reader import read_table


@dataclass(frozen=True)
class Checked:
    """What a file would do.

    `rows`: rows that hold anything. `notes`: how the file was read. `problems`: the first 1,000 by row; `problem_count`
    counts them all and `bad_rows` the rows. `counts`: add, change and unchanged by noun. `changes`: what would change
    of existing things, value by value. `draft` is for applying; `zone` is the
    company's.
    """

    rows: int
    notes: tuple[str, ...]
    problems: tuple[CellProblem, ...]
    problem_count: int
    bad_rows: int
    counts: dict[str, Counts]
    changes: tuple[Change, ...]
    draft: Draft
    zone: str


def check(*, act: Act, data: bytes) -> Checked:
    """Read and check a register file, CSV or XLSX. Raises BadInput (no table), NotAllowed (not the office)."""
    if not act.is_office:
        raise NotAllowed("Only the office may import a register.")
    problems = Problems()
    table = read_table(data, problems=problems)
    zone = company.at(act.at).zone
    checking = Checking(act, problems, clock.local_date(act.at, zone), zone)
    # Without a column that says where, the header's problem is the only one worth reading.
    places = {"address", "property_uid"} & table.columns.keys()
    placed = gather(checking, table.rows if places else ())
    there = present.at_properties({draft.existing.pk for draft in checking.draft.properties if draft.existing})
    check_properties(checking)
    check_systems(checking, there)
    check_hazards(checking, there)
    check_people(checking, there)
    parts = read_parts(checking, placed)
    check_parts(checking, parts, there)
    counts, changes = compare(checking.draft)
    return Checked(
        rows=len(table.rows),
        notes=table.notes,
        problems=problems.listed(),
        problem_count=len(problems),
        bad_rows=len(problems.bad_rows),
        counts=counts,
        changes=changes,
        draft=checking.draft,
        zone=zone,
    )
