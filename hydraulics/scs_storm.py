"""Cumulative shapes of the SCS type II and type III 24-hour storms.

Type II: SCS TP-149 and TR-60, as tabulated in Chow, Maidment and Mays 1988, table 14.4. Public copies of this table
disagree after noon; the half hour before noon must hold 0.380 of the day.
Type III: SCS tabulation at 0.1 h; agrees with City of Austin Drainage Criteria Manual, table 2-6 (5-minute steps).
Between knots both are read linearly.
"""

from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.limits import scalar_or_array, within
from hydraulics.units import FloatArray

Kind = Literal["II", "III"]

_TYPE_II: Final = np.array(
    [
        (0, 0.000), (2, 0.022), (4, 0.048), (6, 0.080), (8, 0.120), (9, 0.147), (10, 0.181), (10.5, 0.204),
        (11, 0.235), (11.5, 0.283), (11.75, 0.357), (12, 0.663), (12.5, 0.735), (13, 0.772), (13.5, 0.799),
        (14, 0.820), (16, 0.880), (20, 0.952), (24, 1.000),
    ]
)  # fmt: skip

# Ten-thousandths of the day's rain at 0.0, 0.1, ... 24.0 h, one row an hour.
_TYPE_III_ROWS: Final = """
0 10 20 30 40 50 60 70 80 90
100 110 120 130 140 150 160 170 180 190
200 210 220 231 241 252 263 274 285 296
308 319 331 343 355 367 379 392 404 417
430 443 456 470 483 497 511 525 539 553
567 582 597 612 627 642 657 673 688 704
720 736 753 770 788 806 825 844 864 884
905 926 948 970 993 1016 1040 1064 1089 1114
1140 1167 1194 1223 1253 1284 1317 1350 1385 1421
1458 1496 1535 1575 1617 1659 1703 1748 1794 1842
1890 1940 1993 2048 2105 2165 2227 2292 2359 2428
2500 2578 2664 2760 2866 2980 3143 3394 3733 4166
5000 5840 6267 6606 6857 7020 7134 7240 7336 7422
7500 7572 7641 7708 7773 7835 7895 7952 8007 8060
8110 8158 8206 8252 8297 8341 8383 8425 8465 8504
8543 8579 8615 8650 8683 8716 8747 8777 8806 8833
8860 8886 8911 8936 8960 8984 9007 9030 9052 9074
9095 9116 9136 9156 9175 9194 9212 9230 9247 9264
9280 9296 9312 9327 9343 9358 9373 9388 9403 9418
9433 9447 9461 9475 9489 9503 9517 9530 9544 9557
9570 9583 9596 9609 9621 9634 9646 9658 9670 9682
9694 9706 9718 9729 9741 9752 9764 9775 9786 9797
9808 9818 9829 9839 9850 9860 9870 9880 9890 9900
9909 9919 9928 9938 9947 9956 9965 9974 9983 9991
10000
"""
_TYPE_III: Final = np.array([int(word) for word in _TYPE_III_ROWS.split()]) / 10_000.0


def scs_fraction(kind: Kind, hour: ArrayLike) -> float | FloatArray:
    """Share of the day's rain that has fallen by ``hour`` [h, 0 to 24], 0 to 1.

    >>> round(float(scs_fraction("II", 12.0)) - float(scs_fraction("II", 11.5)), 3)
    0.38
    """
    hours = within("hour of the storm", hour, 0.0, 24.0, "h")
    if kind == "II":
        return scalar_or_array(np.interp(hours, _TYPE_II[:, 0], _TYPE_II[:, 1]))
    if kind == "III":
        return scalar_or_array(np.interp(hours, np.arange(241) / 10.0, _TYPE_III))
    raise ValueError(f"SCS distribution {kind!r} is not known; use 'II' or 'III'")


def scs_storm(kind: Kind, depth_mm: float, block_min: float = 5.0) -> FloatArray:
    """Rain of each block [mm] of a 24-hour SCS storm of ``depth_mm``; the blocks must divide the day.

    >>> round(float(scs_storm("II", 100.0, 30.0)[23]), 6)
    38.0
    """
    depth = float(within("storm depth", depth_mm, 0.0, 2000.0, "mm"))
    blocks = 1440.0 / float(within("block", block_min, 1.0, 1440.0, "min"))
    if abs(blocks - round(blocks)) > 1e-9:
        raise ValueError(f"block is {block_min:g} min; it must divide 1440 min")
    cumulative = np.asarray(scs_fraction(kind, np.linspace(0.0, 24.0, round(blocks) + 1)))
    return depth * np.diff(cumulative)
