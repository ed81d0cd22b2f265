"""How a curved piece can be made: turned from a blank of staves, stacked rings, bent lamination, or sawn from solid.

polygon, stock -> parting, landmarks -> staved, rings, laminated, sawn -> choosing
"""

from preview.blanks.cautions import Caution
from preview.blanks.choosing import METHODS, NAMES, Method, Way, favored, ways
from preview.blanks.curved import Curved, CurveEnd, curved, described
from preview.blanks.laminated import (
    STRIPS,
    Lamination,
    form_radius,
    laminated,
    lamination_words,
    spring_back,
    thickest_strip,
)
from preview.blanks.landmarks import Landmark, landmarks
from preview.blanks.order import Step, thin_words, turning_order
from preview.blanks.parting import Parting, Remedy, part
from preview.blanks.polygon import chord, edge_angle, flat_of, point_of, sagitta, side_of
from preview.blanks.rings import RingStack, ring_words, rings, segment_width
from preview.blanks.sawn import Sawn, nesting, sawn, sawn_words, segments_within
from preview.blanks.staved import StavedBlank, blank_words, fewest_staves, glue_words, staved
from preview.blanks.stock import (
    BOARD_LENGTH,
    LARGEST_SWING,
    NOMINAL,
    WIDEST_BOARD,
    Nominal,
    board_feet,
    fine,
    stock_for,
)

__all__ = [
    "BOARD_LENGTH",
    "LARGEST_SWING",
    "METHODS",
    "NAMES",
    "NOMINAL",
    "STRIPS",
    "WIDEST_BOARD",
    "Caution",
    "CurveEnd",
    "Curved",
    "Lamination",
    "Landmark",
    "Method",
    "Nominal",
    "Parting",
    "Remedy",
    "RingStack",
    "Sawn",
    "StavedBlank",
    "Step",
    "Way",
    "blank_words",
    "board_feet",
    "chord",
    "curved",
    "described",
    "edge_angle",
    "favored",
    "fewest_staves",
    "fine",
    "flat_of",
    "form_radius",
    "glue_words",
    "laminated",
    "lamination_words",
    "landmarks",
    "nesting",
    "part",
    "point_of",
    "ring_words",
    "rings",
    "sagitta",
    "sawn",
    "sawn_words",
    "segment_width",
    "segments_within",
    "side_of",
    "spring_back",
    "staved",
    "stock_for",
    "thickest_strip",
    "thin_words",
    "turning_order",
    "ways",
]
