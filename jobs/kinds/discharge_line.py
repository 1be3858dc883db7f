"""Discharge line: the pressure pipe from the pump to where the water comes out."""

from jobs.kinds.base import GRAVITY_RECEIVERS, Dimensions, Kind, Symbol, ask, number, whole, yes_no
from jobs.kinds.words import gettext_noop


class DischargeLineDimensions(Dimensions):
    # Schedule 40 plastic, least-wall bore: 1 1/4 in 1.380, 1 1/2 in 1.610, 2 in 2.067 (ASTM D1785).
    inside_diameter_in: float | None = number(
        "Inside diameter",
        "in",
        0.5,
        6,
        assumed=1.61,
        help="The bore, not the name of the pipe: 1 1/4 in pipe 1.380, 1 1/2 in 1.610, 2 in 2.067.",
    )
    length_ft: float | None = number("Length", "ft", 1, 1000, needed=True, help="Pump to outlet, along the pipe.")
    static_lift_ft: float | None = number(
        "Static lift", "ft", 0, 100, needed=True, help="From the pump-off level in the basin up to the outlet."
    )
    line_high_point_ft: float | None = number(
        "Line high point",
        "ft",
        0,
        100,
        help="From the pump-off level up to the line's highest point, if above the outlet.",
    )
    # C 130: design form of the Minnesota Pollution Control Agency and University of Minnesota pump-selection worksheet.
    hazen_williams_c: float | None = number(
        "Hazen-Williams C", "", 80, 160, assumed=130, help="130 for design, 150 for new smooth plastic."
    )
    elbows_90: int | None = whole("90-degree elbows", "", 0, 40, assumed=3, help="Long sweeps count as 45s.")
    elbows_45: int | None = whole("45-degree elbows", "", 0, 40, assumed=2, help="Counted along the line.")
    tees_through: int | None = whole("Tees, straight through", "", 0, 20, assumed=0, help="Counted along the line.")
    tees_branch: int | None = whole("Tees, into the branch", "", 0, 20, assumed=0, help="Counted along the line.")
    gate_valves: int | None = whole("Gate or ball valves", "", 0, 10, assumed=0, help="Left fully open.")
    cover_depth_in: float | None = number("Depth of cover", "in", 0, 240, help="Ground to the top of the pipe.")
    exposed_to_frost: bool | None = yes_no(
        "Exposed to frost", help="Part of it lies above ground or above the depth frost reaches."
    )
    freeze_relief_fitted: bool | None = yes_no(
        "Freeze relief fitted", help="An opening near the house lets water out if the line beyond is frozen."
    )


KIND = Kind(
    code="discharge_line",
    version=1,
    name="discharge line",
    plural="discharge lines",
    plain_words=gettext_noop("the buried pipe from the pump to the street"),
    tag_prefix="DL",
    dimensions=DischargeLineDimensions,
    symbol=Symbol("line", "chain", width="inside_diameter_in", length="length_ft"),
    tasks=("look", "flush", "drain_for_frost", "restart", "replace"),
    readings=(
        ask("flow_seen", "look", "flush", "restart"),
        ask("note", "look", "flush", "drain_for_frost", "restart", "replace"),
    ),
    checklist=(
        gettext_noop("Ground along the line dry and firm while the pump runs"),
        gettext_noop("Freeze relief open and not pointed at the house or a walk"),
    ),
    may_feed=GRAVITY_RECEIVERS | {"discharge_line"},
    bore="inside_diameter_in",
)
