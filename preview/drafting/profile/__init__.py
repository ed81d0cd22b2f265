"""A profile drawn: its section with every dimension, a library side by side, and at full size for other programs.

facts -> chains, radii -> dimensioned -> contact, template; full_size
"""

from preview.drafting.profile.chains import Chain, Side, Step, chain, overall, spread
from preview.drafting.profile.contact import contact_sheet_png, contact_sheet_svg
from preview.drafting.profile.dimensioned import (
    LEAST_WIDTH,
    MARGIN,
    SCALES,
    SIZE,
    DrawingUnit,
    dimensioned,
    footing,
    lining,
    profile_sheet_png,
    profile_sheet_svg,
    scale_bar,
    section,
)
from preview.drafting.profile.facts import EdgeFacts, edge_facts
from preview.drafting.profile.full_size import profile_dxf, profile_svg
from preview.drafting.profile.template import profile_pdf

__all__ = [
    "LEAST_WIDTH",
    "MARGIN",
    "SCALES",
    "SIZE",
    "Chain",
    "DrawingUnit",
    "EdgeFacts",
    "Side",
    "Step",
    "chain",
    "contact_sheet_png",
    "contact_sheet_svg",
    "dimensioned",
    "edge_facts",
    "footing",
    "lining",
    "overall",
    "profile_dxf",
    "profile_pdf",
    "profile_sheet_png",
    "profile_sheet_svg",
    "profile_svg",
    "scale_bar",
    "section",
    "spread",
]
