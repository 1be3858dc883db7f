"""Applies a register file: checked and written in one transaction, or refused whole."""

from dataclasses import replace

from django.db import transaction

from core.act import Act
from core.problem import BadInput, FieldProblem
from jobs.exchange.drafts import Draft
from jobs.exchange.validate import Checked, check
from jobs.exchange.write_changes import end_links, found_in, write_changes
from jobs.exchange.write_new import write_new


class NotClean(BadInput):
    """The file has problems; `checked` holds them. Nothing was written."""

    def __init__(self, checked: Checked) -> None:
        self.checked = checked
        count = checked.problem_count
        fields = tuple(
            FieldProblem(
                f"row {item.row}, {item.column}" if item.column else f"row {item.row}", item.message, item.value
            )
            for item in checked.problems
        )
        words = f"{count:,} problem{'' if count == 1 else 's'} in {checked.bad_rows:,} rows: nothing was written."
        super().__init__(words, fields=fields, code="file_has_problems")


def apply(*, act: Act, data: bytes) -> Checked:
    """Check a register file against the register as it is now and write it all.

    Applying the same file again changes nothing. Raises NotClean with every problem, BadInput where it is no table,
    NotAllowed for all but the office; then nothing was written.
    """
    with transaction.atomic():
        checked = check(act=act, data=data)
        if checked.problem_count:
            raise NotClean(checked)
        found = found_in(checked.draft)
        end_links(act=act, draft=checked.draft)
        write_new(act=act, draft=checked.draft, zone=checked.zone)
        write_changes(act=act, found=found)
    return replace(checked, draft=Draft())
