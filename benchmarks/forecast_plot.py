"""The calibration plot: what was forecast against what came, ink on paper, no colour needed to read it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

_SIDE: Final = 420
_LEFT: Final = 56
_TOP: Final = 16


def _x(share: float) -> float:
    return round(_LEFT + share * _SIDE, 1)


def _y(share: float) -> float:
    return round(_TOP + (1 - share) * _SIDE, 1)


def plot(bins: Sequence[tuple[float, float, int]], dates: Sequence[tuple[float, float, int]]) -> str:
    """SVG text. `bins`: (mean forecast, share that came, how many) at random days ahead; `dates`: the same for the days
    on which 5, 20 and 50 % were forecast. The ruled band is 5 points either side of the diagonal."""
    width, height = _LEFT + _SIDE + 24, _TOP + _SIDE + 56
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        'font-family="Georgia, serif" font-size="12" fill="#222">',
        "<title>Chance forecast against share that came</title>",
        f'<rect width="{width}" height="{height}" fill="#fbfaf6"/>',
        f'<polygon points="{_x(0)},{_y(0.05)} {_x(0.95)},{_y(1)} {_x(1)},{_y(1)} {_x(1)},{_y(0.95)} {_x(0.05)},{_y(0)} '
        f'{_x(0)},{_y(0)}" fill="#e9e5d8"/>',
    ]
    for tenth in range(0, 11, 2):
        share = tenth / 10
        parts.append(f'<path d="M{_x(share)} {_y(0)}v5M{_x(0)} {_y(share)}h-5" stroke="#222" fill="none"/>')
        parts.append(f'<text x="{_x(share)}" y="{_y(0) + 18}" text-anchor="middle">{tenth * 10} %</text>')
        parts.append(f'<text x="{_x(0) - 9}" y="{_y(share) + 4}" text-anchor="end">{tenth * 10} %</text>')
    parts.append(f'<path d="M{_x(0)} {_y(0)}L{_x(1)} {_y(1)}" stroke="#999" fill="none"/>')
    parts.append(f'<path d="M{_x(0)} {_y(1)}V{_y(0)}H{_x(1)}" stroke="#222" fill="none"/>')
    line = " ".join(f"{'M' if i == 0 else 'L'}{_x(a)} {_y(b)}" for i, (a, b, _) in enumerate(bins))
    parts.append(f'<path d="{line}" stroke="#222" fill="none"/>')
    for came, share, count in bins:
        parts.append(f'<circle cx="{_x(came)}" cy="{_y(share)}" r="3.5" fill="#222">')
        parts.append(f"<title>{count} forecasts: {came:.1%} forecast, {share:.1%} came</title></circle>")
    for chance, share, count in dates:
        parts.append(f'<path d="M{_x(chance) - 6} {_y(share) - 6}h12v12h-12z" fill="none" stroke="#222">')
        parts.append(f"<title>days of {chance:.0%}: {share:.1%} of {count} came</title></path>")
    words = "chance forecast (squares: days of 5, 20, 50 %)"
    parts.append(f'<text x="{_x(0.5)}" y="{_y(0) + 38}" text-anchor="middle">{words}</text>')
    parts.append(
        f'<text transform="translate(14 {_y(0.5)}) rotate(-90)" text-anchor="middle">share that came to be over</text>'
    )
    parts.append("</svg>")
    return "\n".join(parts) + "\n"
