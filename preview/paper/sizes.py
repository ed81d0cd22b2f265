"""The papers that things are printed on."""

from __future__ import annotations

from collections.abc import Mapping

SHEETS: Mapping[str, tuple[float, float]] = {
    "letter": (215.9, 279.4),
    "tabloid": (279.4, 431.8),
    "a4": (210.0, 297.0),
    "a3": (297.0, 420.0),
}
"""mm, upright. Letter, 8 1/2 by 11 in, and tabloid, 11 by 17, are sizes A and B of ANSI/ASME Y14.1, A4 and A3 are ISO
216; all from memory."""
