"""What a service refuses, put beside the fields of the form it came from."""

from typing import TypeVar

from django.forms import BaseForm

from core.problem import Problem

F = TypeVar("F", bound=BaseForm)


def tell(form: F, problem: Problem, **names: str) -> F:
    """Add the problem to the form: to its fields where it names them, else above all. `names`: other field names.

    The form is bound and cleaned already.
    """
    placed = False
    for one in problem.fields:
        name = names.get(one.field, one.field)
        top = name.split(".")[0]
        if top in form.fields:
            form.add_error(top, one.message)
            placed = True
    if not placed:
        form.add_error(None, problem.detail)
    return form
