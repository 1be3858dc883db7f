"""Points of the plan as a line of text: '0 0; 12.5 3', feet east and north of the corner."""

from collections.abc import Sequence

from core.problem import BadInput, FieldProblem
from pages.forms.fields import number


def points_shown(points: Sequence[Sequence[float]]) -> str:
    """Text that reads back as the same points."""
    return "; ".join(" ".join(_shown(value) for value in point) for point in points)


def points_of(name: str, text: str) -> list[list[float]]:
    """[[x_ft, y_ft], ...]. Raises BadInput at the field `name`."""
    points = []
    for part in filter(None, (part.strip() for part in text.split(";"))):
        try:
            east, north = part.replace(",", " ").split()
            points.append([number(east), number(north)])
        except ValueError:
            message = f"{part[:30]!r} is no point: give feet east and north of the corner, such as 12.5 3"
            raise BadInput(message, fields=(FieldProblem(name, message, part[:60]),)) from None
    return points


def _shown(value: float) -> str:
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(float(value))
