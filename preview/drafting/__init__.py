"""Line drawings: sections, plans, elevations and isometrics, with their dimensions."""

from preview.drafting.dimensions import thinned_dimensions
from preview.drafting.drawing import Drawing, drawing_svg
from preview.drafting.drawings import drawings_of
from preview.drafting.elevation import elevation_drawing, elevation_drawings
from preview.drafting.isometric import corner_drawings
from preview.drafting.plan import plan_drawing, plan_drawings
from preview.drafting.profile import (
    LEAST_WIDTH,
    MARGIN,
    SCALES,
    SIZE,
    DrawingUnit,
    EdgeFacts,
    Step,
    contact_sheet_png,
    contact_sheet_svg,
    dimensioned,
    edge_facts,
    footing,
    overall,
    profile_dxf,
    profile_pdf,
    profile_sheet_png,
    profile_sheet_svg,
    profile_svg,
    spread,
)
from preview.drafting.scales import length_text
from preview.drafting.section import section_drawing, section_drawings
from preview.drafting.tags import piece_tags

__all__ = [
    "LEAST_WIDTH",
    "MARGIN",
    "SCALES",
    "SIZE",
    "Drawing",
    "DrawingUnit",
    "EdgeFacts",
    "Step",
    "contact_sheet_png",
    "contact_sheet_svg",
    "corner_drawings",
    "dimensioned",
    "drawing_svg",
    "drawings_of",
    "edge_facts",
    "elevation_drawing",
    "elevation_drawings",
    "footing",
    "length_text",
    "overall",
    "piece_tags",
    "plan_drawing",
    "plan_drawings",
    "profile_dxf",
    "profile_pdf",
    "profile_sheet_png",
    "profile_sheet_svg",
    "profile_svg",
    "section_drawing",
    "section_drawings",
    "spread",
    "thinned_dimensions",
]
