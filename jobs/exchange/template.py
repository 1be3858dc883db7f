"""The empty register file: a header with all columns and, in a workbook, a sheet that explains them."""

from collections.abc import Iterator
from typing import Final

from jobs.exchange.cells import Raw
from jobs.exchange.columns import Column, dimension_columns, in_order, template_columns
from jobs.exchange.export import FileFormat
from jobs.exchange.table_writer import csv_bytes, xlsx_bytes
from jobs.kinds import registry
from jobs.kinds.dimensions import field_by_name

HEADER: Final = ("column", "for", "unit", "least", "most", "choices", "what it says")


def template(file_format: FileFormat) -> bytes:
    """CSV: the header alone. XLSX: the header, and a sheet `columns` with units, limits and choices of every column."""
    chosen = in_order(template_columns())
    if file_format == "csv":
        return csv_bytes(chosen, [])
    return xlsx_bytes(chosen, [], second_sheet=("columns", lines()))


def lines() -> Iterator[tuple[Raw, ...]]:
    """The explanation of every column, a line for each, and for a dimension one for each kind that has it."""
    yield HEADER
    for column in in_order(template_columns()):
        if column.scope == "dimension":
            continue
        yield _line(column)
    for name in dimension_columns():
        for kind in registry.ALL:
            item = field_by_name(kind).get(name)
            if item is not None:
                limits = tuple("" if value is None else value for value in (item.low, item.high))
                words = f"{item.label}. {item.help}"
                yield name, kind.name, item.unit, *limits, _choices(item.choices, item.type), words


def _line(column: Column) -> tuple[Raw, ...]:
    limits = tuple("" if value is None else value for value in (column.low, column.high))
    of = {"person": "people", "hazard": "hazards", "drains": "surfaces that drain to the part", "part": "every part"}
    choices = _choices(column.choices, column.type)
    return column.name, of.get(column.scope, column.scope), column.unit, *limits, choices, column.help


def _choices(choices: object, type: str) -> str:
    if type == "yes_no":
        return "yes, no"
    return ", ".join(choices) if isinstance(choices, dict) else ""
