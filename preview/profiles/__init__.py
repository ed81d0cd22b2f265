"""Profiles: exact cross-sections of moldings, their measures, their flattening, and the trade shapes."""

from preview.profiles.biarcs import Fitted, biarc, curve_strays, fit_arcs
from preview.profiles.buildup import TOUCHING, BuildUp, Gap, Overlap, Strip, open_strips, overall_outline
from preview.profiles.curves import Ellipse, Smooth, curve_direction
from preview.profiles.cut_report import CutReport, Undercut, report_cuts
from preview.profiles.cutters import (
    Bead,
    Chamfer,
    CoreBox,
    Cove,
    Cutter,
    Drawn,
    Ogee,
    Roundover,
    Straight,
    Vee,
)
from preview.profiles.cutting import Cut, cut_profile
from preview.profiles.easing import arrises, ease
from preview.profiles.edges import Arc, Edge, Line, arc_of_sweep, arc_through
from preview.profiles.measures import Measures, distance_to, measure, projection_at
from preview.profiles.outline import Outline, flatten
from preview.profiles.pens import Pen, Point
from preview.profiles.placement import Blank, BlankFace, Place
from preview.profiles.profile import Profile, lying, make_profile
from preview.profiles.raked import raked_section
from preview.profiles.regions import Region, difference, intersection, region, union
from preview.profiles.relief import BACK_STRIP, back_bevel, back_relief
from preview.profiles.shapes import SHAPES, Drawing, Shape
from preview.profiles.sketches import sketch
from preview.profiles.spring import Sprung, sprung
from preview.profiles.webs import LEAST_WEB, Web, thin_webs

__all__ = [
    "BACK_STRIP",
    "LEAST_WEB",
    "SHAPES",
    "TOUCHING",
    "Arc",
    "Bead",
    "Blank",
    "BlankFace",
    "BuildUp",
    "Chamfer",
    "CoreBox",
    "Cove",
    "Cut",
    "CutReport",
    "Cutter",
    "Drawing",
    "Drawn",
    "Edge",
    "Ellipse",
    "Fitted",
    "Gap",
    "Line",
    "Measures",
    "Ogee",
    "Outline",
    "Overlap",
    "Pen",
    "Place",
    "Point",
    "Profile",
    "Region",
    "Roundover",
    "Shape",
    "Smooth",
    "Sprung",
    "Straight",
    "Strip",
    "Undercut",
    "Vee",
    "Web",
    "arc_of_sweep",
    "arc_through",
    "arrises",
    "back_bevel",
    "back_relief",
    "biarc",
    "curve_direction",
    "curve_strays",
    "cut_profile",
    "difference",
    "distance_to",
    "ease",
    "fit_arcs",
    "flatten",
    "intersection",
    "lying",
    "make_profile",
    "measure",
    "open_strips",
    "overall_outline",
    "projection_at",
    "raked_section",
    "region",
    "report_cuts",
    "sketch",
    "sprung",
    "thin_webs",
    "union",
]
