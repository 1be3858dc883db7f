"""How each starting layout is put together."""

from typing import Final

from jobs.decide.layout_draft import Draft, Numbers

# Runoff coefficients within the ranges of the Univ. of Illinois course table TSM352 (the classic ASCE manual table):
# concrete .80 to .95, lawn on heavy soil .13 to .35; roofs .75 to .95 (value from memory).
PAVED_C: Final = 0.90
ROOF_C: Final = 0.95
LAWN_C: Final = 0.25

# What a basin holds above and below the pump-on level: common practice, no source.
BASIN_DEPTH_IN: Final = 30.0
INFLOW_BELOW_RIM_IN: Final = 4.0


def channel_pumped_curb(draft: Draft, numbers: Numbers) -> None:
    """A level channel, open at one end, into a pumped sump basin and out at the curb."""
    channel = _channel(draft, numbers, "one_open")
    draft.lead(channel, _pumped_basin(draft, numbers))
    draft.area(channel, numbers, "paved_area_ft2", "paved", PAVED_C)


def two_sumps(draft: Draft, numbers: Numbers) -> None:
    """A level channel, open at both ends, into two pumped sump basins with a line each."""
    channel = _channel(draft, numbers, "two_open")
    for _ in range(2):
        draft.lead(channel, _pumped_basin(draft, numbers))
    draft.area(channel, numbers, "paved_area_ft2", "paved", PAVED_C)


def leaders_pop_up(draft: Draft, numbers: Numbers) -> None:
    """One leader a downspout, joining a common pipe piece by piece, to a pop-up."""
    count = int(numbers["downspouts"])
    asked = {"length_ft": "leader_length_ft", "slope_percent": "slope_percent"}
    leaders = [draft.add("downspout_leader", numbers, asked=asked, inside_diameter_in=4) for _ in range(count)]
    pipe = _pipe(draft, numbers, diameter="pipe_diameter_in")
    outfall = draft.add("outfall", numbers, asked={"outlet_diameter_in": "pipe_diameter_in"}, outlet_kind="pop_up")
    for leader in leaders:
        draft.lead(leader, pipe)
        draft.area(leader, numbers, "roof_area_ft2", "roof", ROOF_C, share=count)
    draft.lead(pipe, outfall)


def french_dry_well(draft: Draft, numbers: Numbers) -> None:
    """A clean-out, a perforated pipe in stone, a solid pipe and a dry well with an overflow."""
    top = draft.add("clean_out", inside_diameter_in=4)
    drain = draft.add(
        "french_drain",
        numbers,
        asked={
            "length_ft": "drain_length_ft",
            "slope_percent": "slope_percent",
            "trench_depth_in": "trench_depth_in",
        },
        inside_diameter_in=4,
        clean_out_fitted=True,
        wrapping="trench",
    )
    pipe = _pipe(draft, numbers)
    well = draft.add("dry_well", numbers, asked={"inside_diameter_in": "dry_well_diameter_in"}, overflow_fitted=True)
    outfall = draft.add("outfall", outlet_kind="pop_up", outlet_diameter_in=4)
    draft.lead(top, drain, pipe, well)
    draft.overflow(well, outfall)
    draft.area(drain, numbers, "lawn_area_ft2", "lawn", LAWN_C)


def basins_gravity_curb(draft: Draft, numbers: Numbers) -> None:
    """Catch basins in a row with a pipe after each, out at the curb."""
    count = int(numbers["basins"])
    row = []
    for _ in range(count):
        basin = draft.add(
            "catch_basin",
            numbers,
            asked={
                "inside_width_in": "basin_width_in",
                "inside_length_in": "basin_width_in",
                "depth_in": "basin_depth_in",
            },
            invert_above_bottom_in=6,
            outlet_diameter_in=4,
        )
        asked = {"length_in": "basin_width_in", "width_in": "basin_width_in"}
        draft.add("grate", numbers, asked=asked, part_of=basin, set_in="lawn")
        draft.area(basin, numbers, "lawn_area_ft2", "lawn", LAWN_C, share=count)
        row += [basin, _pipe(draft, numbers)]
    row.append(draft.add("outfall", outlet_kind="curb", outlet_diameter_in=4))
    draft.lead(*row)


def _channel(draft: Draft, numbers: Numbers, ends: str) -> str:
    channel = draft.add(
        "channel_run",
        numbers,
        asked={
            "length_ft": "channel_length_ft",
            "inside_width_in": "channel_width_in",
            "inside_depth_in": "channel_depth_in",
        },
        slope_percent=0,
        ends=ends,
    )
    length_in = numbers["channel_length_ft"] * 12
    asked = {"width_in": "channel_width_in"}
    draft.add("grate", numbers, asked=asked, part_of=channel, length_in=length_in, set_in="paving")
    return channel


def _pipe(draft: Draft, numbers: Numbers, diameter: str = "") -> str:
    asked = {"length_ft": "pipe_length_ft", "slope_percent": "slope_percent"}
    if diameter:
        return draft.add("gravity_pipe", numbers, asked={**asked, "inside_diameter_in": diameter})
    return draft.add("gravity_pipe", numbers, asked=asked, inside_diameter_in=4)


def _pumped_basin(draft: Draft, numbers: Numbers) -> str:
    """A sump basin with pump, float, check valve, discharge line, alarm and an outfall at the curb."""
    # Deeper channels enter lower; the basin goes down with them so that the pump's range stays free.
    depth = BASIN_DEPTH_IN + max(0.0, numbers["channel_depth_in"] - 6)
    basin = draft.add(
        "sump_basin",
        inside_diameter_in=24,
        depth_in=depth,
        on_above_bottom_in=14,
        off_above_bottom_in=6,
        lowest_inflow_invert_above_bottom_in=depth - INFLOW_BELOW_RIM_IN - numbers["channel_depth_in"],
        pump_intake_above_bottom_in=3,
    )
    pump = draft.add("pump", sits_in=basin, horsepower_hp=0.5)
    draft.add("float", sits_in=basin, part_of=pump)
    draft.add("high_water_alarm", sits_in=basin, trips_above_bottom_in=18)
    valve = draft.add("check_valve", valve_type="swing")
    asked = {"length_ft": "discharge_length_ft", "static_lift_ft": "static_lift_ft"}
    line = draft.add("discharge_line", numbers, asked=asked)
    outfall = draft.add("outfall", outlet_kind="curb", outlet_diameter_in=4)
    draft.lead(pump, valve, line, outfall)
    return basin
