"""Clean-out: a capped riser through which a buried pipe is looked into and flushed."""

from jobs.kinds.base import GRAVITY_RECEIVERS, Dimensions, Kind, Symbol, ask, number, yes_no
from jobs.kinds.words import gettext_noop


class CleanOutDimensions(Dimensions):
    inside_diameter_in: float | None = number("Inside diameter", "in", 1, 24, assumed=4, help="Of the riser.")
    depth_to_invert_in: float | None = number("Depth to the invert", "in", 1, 240, help="Cap to the pipe's bottom.")
    two_way: bool | None = yes_no("Two-way", help="A hose can be led both up and down the pipe.")


KIND = Kind(
    code="clean_out",
    version=1,
    name="clean-out",
    plural="clean-outs",
    plain_words=gettext_noop("the capped opening to a buried pipe"),
    tag_prefix="CO",
    dimensions=CleanOutDimensions,
    symbol=Symbol("mark", letters="CO", diameter="inside_diameter_in"),
    tasks=("look", "replace"),
    readings=(ask("silt_depth_in", "look", high=24), ask("grade", "look"), ask("note", "look", "replace")),
    checklist=(
        gettext_noop("Cap found, opened, threads greased, closed hand-tight"),
        gettext_noop("Cap level with the ground, so that nobody trips and no mower catches it"),
    ),
    may_feed=GRAVITY_RECEIVERS | {"french_drain"},
    may_overflow=True,
)
