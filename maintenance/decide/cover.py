"""Who pays for a visit, as far as rules can tell. "Our fault" is only ever set by a person."""

from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

Cover = Literal["covered", "chargeable", "warranty", "our_fault"]

WARRANTY_TASKS: Final = frozenset({"replace"})
"""Tasks that put right what was installed. Upkeep such as cleaning is never warranty (common practice, no source)."""


class TaskFacts(NamedTuple):
    """One task of a visit: its code, whether the agreement in force lists its rule, whether warranty still runs."""

    task: str
    in_agreement: bool
    under_warranty: bool


def decide(tasks: Sequence[TaskFacts]) -> Cover:
    """Covered where the agreement lists every rule, warranty where every task is; mixed without a charge: covered.

    >>> decide([TaskFacts("clean", True, False), TaskFacts("replace", False, True)])
    'covered'
    >>> decide([TaskFacts("clean", False, True)])
    'chargeable'
    """
    warranty = [t.under_warranty and t.task in WARRANTY_TASKS for t in tasks]
    if tasks and all(warranty):
        return "warranty"
    if tasks and all(t.in_agreement or free for t, free in zip(tasks, warranty, strict=True)):
        return "covered"
    return "chargeable"
