"""Small models for the reference engine (package swmm-toolkit): a channel of pieces, a pumped basin; and their runs.

Used by the reference tests and by the bench of basins. The engine writes its files into a folder of its own each time.
"""

import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from swmm.toolkit import solver
from swmm.toolkit.shared_enum import NodeResult, ObjectType


def _options(duration_s: float, step_s: float) -> list[str]:
    hours, rest = divmod(round(duration_s), 3600)
    return [
        "[OPTIONS]", "FLOW_UNITS CMS", "FLOW_ROUTING DYNWAVE", "START_DATE 01/01/2020", "START_TIME 00:00:00",
        "REPORT_START_DATE 01/01/2020", "REPORT_START_TIME 00:00:00", f"END_DATE 01/0{1 + hours // 24}/2020",
        f"END_TIME {hours % 24:02d}:{rest // 60:02d}:{rest % 60:02d}", "REPORT_STEP 01:00:00", "WET_STEP 01:00:00",
        "DRY_STEP 01:00:00", f"ROUTING_STEP {step_s}", "INERTIAL_DAMPING NONE", "NORMAL_FLOW_LIMITED FROUDE",
        "VARIABLE_STEP 0", "MIN_SURFAREA 0.0001", "MAX_TRIALS 20", "HEAD_TOLERANCE 0.00001", "THREADS 1",
        "ALLOW_PONDING NO", "MIN_SLOPE 0",
    ]  # fmt: skip


_QUIET = ["[REPORT]", "INPUT NO", "CONTROLS NO", "NODES NONE", "LINKS NONE"]


def channel_model(
    lateral_m3s: float, above_m3s: float, width_m: float, length_m: float, manning_n: float, slope: float, pieces: int
) -> str:
    """A rectangular channel of equal pieces with a free outfall; each joint takes the lateral inflow of its piece."""
    piece = length_m / pieces
    lines = [*_options(600.0, 0.05), "[JUNCTIONS]"]
    lines += [f"J{i} {10 + slope * (length_m - i * piece):.9f} 2.0 0 0 0" for i in range(pieces)]
    lines += ["[OUTFALLS]", "OUT 10.0 FREE NO", "[CONDUITS]"]
    for i in range(pieces):
        target = f"J{i + 1}" if i < pieces - 1 else "OUT"
        lines.append(f"C{i} J{i} {target} {piece:.9f} {manning_n} 0 0 0 0")
    lines += ["[XSECTIONS]", *(f"C{i} RECT_OPEN 2.0 {width_m} 0 0 1" for i in range(pieces)), "[INFLOWS]"]
    shares = [1.0] * pieces
    # half a piece drains to the upstream end; the half piece at the outfall is taken in at the last joint
    shares[0], shares[-1] = 0.5, 1.5
    for i, share in enumerate(shares):
        flow = lateral_m3s * share / pieces + (above_m3s if i == 0 else 0.0)
        lines.append(f'J{i} FLOW "" FLOW 1.0 1.0 {flow:.12f}')
    return "\n".join([*lines, *_QUIET]) + "\n"


@dataclass(frozen=True)
class BasinModel:
    """A round or square basin of one area with one pump between two levels, flow by level (level, flow)."""

    area_m2: float
    depth_m: float
    on_level_m: float
    off_level_m: float
    level_flows: Sequence[tuple[float, float]]
    start_level_m: float = 0.0

    def text(self, inflow_m3s: Sequence[float], inflow_step_s: float, step_s: float) -> str:
        """Model text for an inflow even within steps of ``inflow_step_s``."""
        lines = [*_options(len(inflow_m3s) * inflow_step_s, step_s), "[OUTFALLS]", "OUT 0 FREE NO", "[STORAGE]"]
        lines.append(f"SB 0 {self.depth_m} {self.start_level_m} FUNCTIONAL 0 0 {self.area_m2:.12f} 0 0")
        lines += ["[PUMPS]", f"PU SB OUT PC OFF {self.on_level_m} {self.off_level_m}", "[CURVES]"]
        for i, (level, flow) in enumerate(self.level_flows):
            lines.append(f"PC {'PUMP4 ' if i == 0 else ''}{level:.9f} {flow:.12f}")
        lines += ["[TIMESERIES]", *_series(inflow_m3s, inflow_step_s), "[INFLOWS]", "SB FLOW TS FLOW 1.0 1.0 0"]
        return "\n".join([*lines, *_QUIET]) + "\n"


def _series(inflow_m3s: Sequence[float], inflow_step_s: float) -> Iterable[str]:
    """The engine draws straight lines between points: two points a change, 0.1 s apart, make a step."""
    before = None
    for i, flow in enumerate(inflow_m3s):
        hours = i * inflow_step_s / 3600.0
        if flow != before:
            if before is not None:
                yield f"TS {hours - 0.1 / 3600.0:.9f} {before:.12f}"
            yield f"TS {hours:.9f} {flow:.12f}"
        before = flow
    yield f"TS {len(inflow_m3s) * inflow_step_s / 3600.0:.9f} {before:.12f}"


def last_upstream_depth(text: str) -> float:
    """Run to the end; depth at the first joint at the last step [m]."""
    with tempfile.TemporaryDirectory() as folder:
        _open(folder, text)
        depth = 0.0
        while solver.swmm_step() > 0.0:
            depth = solver.node_get_result(0, NodeResult.DEPTH)
        solver.swmm_end()
        solver.swmm_close()
    return float(depth)


@dataclass(frozen=True)
class BasinRun:
    """What the engine counted: starts, pumped and spilled volume [m3], highest level [m], steps taken."""

    starts: int
    pumped_m3: float
    spilled_m3: float
    peak_level_m: float


def run_basin(text: str) -> BasinRun:
    """Run a basin model to its end."""
    with tempfile.TemporaryDirectory() as folder:
        _open(folder, text)
        while solver.swmm_step() > 0.0:
            pass
        basin = solver.project_get_index(ObjectType.NODE, "SB")
        pump, node = solver.pump_get_stats(0), solver.node_get_stats(basin)
        found = BasinRun(
            starts=int(pump.startUps),
            pumped_m3=float(pump.volume),
            spilled_m3=float(node.volFlooded),
            peak_level_m=float(node.maxDepth),
        )
        solver.swmm_end()
        solver.swmm_close()
    return found


def _open(folder: str, text: str) -> None:
    model = Path(folder) / "model.inp"
    model.write_text(text)
    solver.swmm_open(str(model), str(model.with_suffix(".rpt")), str(model.with_suffix(".out")))
    solver.swmm_start(0)
