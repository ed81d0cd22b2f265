"""Findings are data: one table of checks, and one finding for each thing measured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Check:
    """One kind of check: what it asks, the unit of its figure, and where its limit comes from."""

    code: str
    question: str
    unit: str
    source: str


@dataclass(frozen=True)
class Finding:
    """What one check measured on one piece, joint or pair: it holds when the figure is at most the limit.

    subject: the piece, joint, pair or file. where: the place on the profile, (d, h) in mm, at which it is worst.
    detail: what else there is to say, in words.
    """

    check: Check
    subject: str
    figure: float
    limit: float
    where: tuple[float, float] | None = None
    detail: str = ""

    @property
    def holds(self) -> bool:
        """Whether the check passed; a figure that is not a number never does."""
        return bool(self.figure <= self.limit)  # not one of numpy's, which no report can hold


CLOSED = Check(
    "closed",
    "every edge has exactly one triangle on each side",
    "edges",
    "definition of a closed 2-manifold surface",
)
OUTWARD = Check("outward", "the faces look out of the wood", "bodies", "the sign of the enclosed volume")
ONE_BODY = Check("one-body", "the piece is one connected body", "bodies", "one piece is one solid")
PRESENT = Check("present", "the file holds every piece, once, by its name", "pieces", "the scene's own list")
ON_PROFILE = Check(
    "on-profile",
    "every point of the mesh lies on the exact profile",
    "mm",
    "our own: under a tenth of the strictest published flushness of factory miters "
    "(0.001 in, Premium; AWS 1st ed. 2009, section 6, 4.4.1.8.1), and 32-bit rounding",
)
CHORD = Check(
    "chord",
    "no facet strays from the true surface",
    "mm",
    "the scene's chord tolerance",
)
VOLUME = Check(
    "volume",
    "the mesh's volume agrees with the closed form",
    "mm³",
    "chord tolerance times the curved surface (the most that facets can hide), and 32-bit rounding",
)
LENGTH = Check(
    "length",
    "the piece is as long over all as it is said to be",
    "mm",
    "the scene's chord tolerance, along the slant of a miter, and 32-bit rounding",
)
OVERLAP = Check(
    "overlap",
    "no two pieces share wood",
    "mm³",
    "our own: 0.001 mm³; where pieces of different members touch, plus 32-bit rounding times their surface",
)
GAP = Check("gap", "the joint is closed", "mm", "our own: 0.002 mm on the model; the saw will do worse")
STEP = Check("step", "both profiles stand flush at the joint", "mm", "our own: 0.002 mm on the model; see on-profile")
ANGLE = Check(
    "angle",
    "both profiles run in one direction at the joint",
    "°",
    "our own: a quarter of what makes an arris",
)
READER_PIECE = Check("reader-piece", "another library finds every piece in the GLB", "pieces", "the scene's own list")
READER_CLOSED = Check(
    "reader-closed",
    "another library finds it closed and outward",
    "bodies",
    "trimesh's own tests",
)
READER_VOLUME = Check("reader-volume", "another library finds the same volume", "mm³", "32-bit rounding times surface")
STL_CLOSED = Check(
    "stl-closed",
    "the STL is closed: its edges balance",
    "edges",
    "definition of a closed surface; pieces that touch share positions in this format",
)
STL_TRIANGLES = Check("stl-triangles", "the STL holds as many triangles as the pieces", "triangles", "the GLB")
STL_VOLUME = Check(
    "stl-volume",
    "the STL encloses the pieces' volume",
    "mm³",
    "32-bit rounding times surface, and 1e-9 of the whole",
)
SOLID_VALID = Check("solid-valid", "the CAD kernel finds the solid valid", "faults", "Open CASCADE's shape analysis")
SOLID_VOLUME = Check(
    "solid-volume", "the solid's volume agrees with the closed form", "of the whole", "our own: 1e-6 relative"
)
SOLID_AREA = Check(
    "solid-area",
    "the mesh's surface agrees with the solid's",
    "of the whole",
    "our own: what facets of this chord can hide",
)
SOLID_BOX = Check(
    "solid-box", "mesh and solid fill the same box", "mm", "the scene's chord tolerance, along the slant of a miter"
)
SOLID_DISTANCE = Check(
    "solid-distance",
    "sampled mesh vertices lie on the solid's surface",
    "mm",
    "our own: 0.002 mm; see on-profile",
)
STEP_SOLIDS = Check("step-solids", "the STEP read back holds every piece by its name", "pieces", "the scene's own list")
STEP_VOLUME = Check(
    "step-volume", "the STEP read back has the solids' volumes", "of the whole", "our own: 1e-6 relative"
)
FILE_WHOLE = Check(
    "file-whole", "the file can be read back, with all that it names", "faults", "each format's own specification"
)
FILE_MODEL = Check("file-model", "the file says which model it is", "files", "the model's own digest")
FILE_PIECES = Check(
    "file-pieces", "the file read back holds every piece by its name, and no other", "pieces", "the scene's own list"
)
FILE_POINTS = Check(
    "file-points",
    "every corner of every triangle read back is where the build has it",
    "mm",
    "the spacing of the format's numbers: 32-bit floats from the scene's origin (STL, PLY) or a run's start (glTF, "
    "USDZ), 0.000001 mm (OBJ, 3MF); and 0.000002 mm for carrying them there",
)
FILE_VOLUME = Check(
    "file-volume",
    "the piece read back has the volume of the build's mesh",
    "mm³",
    "our own: 1e-6 of it; or the spacing of the format's numbers times the surface, where that is more",
)
FILE_BOX = Check("file-box", "the piece read back fills the same box", "mm", "as for file-points")
FILE_UNITS = Check(
    "file-units",
    "in the unit that the file states, the whole is as large as the build",
    "of the whole",
    "our own: 1e-6, and the spacing of the format's numbers at both ends",
)
FILE_UP = Check(
    "file-up",
    "along the axis that the file says is up, the whole stands as high as the build",
    "mm",
    "as for file-points",
)
FILE_NORMALS = Check(
    "file-normals",
    "every corner read back faces the way that the build's surface does there",
    "°",
    "the spacing of the format's numbers, of 1 in each direction: 32-bit floats (glTF, USDZ, PLY), 0.000001 (OBJ); and "
    "0.00001 where runs share their meshes (glTF)",
)
FILE_UVS = Check(
    "file-uvs",
    "every corner read back has the build's texture coordinates",
    "mm",
    "the spacing of the format's numbers: 32-bit floats (glTF, USDZ), 0.001 mm (OBJ); and 0.00001 of the farthest "
    "where runs share their meshes (glTF)",
)
FILE_COLOR = Check(
    "file-color",
    "the piece read back has the color of its finish, sRGB",
    "steps of 256",
    "half a step, what 8 bits can hide (IEC 61966-2-1); under a picture of grain a color lighter than the picture is "
    "as light as that (glTF 2.0, 3.9.2: no factor is over 1)",
)
SURVEY_CHANGE = Check(
    "survey-change",
    "no measurement is changed by more than it may be off",
    "times",
    "what the measurer says it may be off",
)
SURVEY_OVERALL = Check(
    "survey-overall",
    "the measurements agree as well as they should",
    "chi-square",
    "chi-square at 0.01 (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4)",
)
SURVEY_GAP = Check(
    "survey-gap", "the run as measured ends where it should", "mm", "our own: 0.01 mm, what any closed run may miss by"
)
SURVEY_TURN = Check("survey-turn", "its corners and curves make one whole turn", "°", "our own: 1e-6 radian")

JOINT_CHECKS = tuple(check.code for check in (GAP, STEP, ANGLE))
"""The checks that ask how two profiles meet, by their codes."""
CHECKS: tuple[Check, ...] = (
    PRESENT,
    CLOSED,
    OUTWARD,
    ONE_BODY,
    ON_PROFILE,
    CHORD,
    VOLUME,
    LENGTH,
    OVERLAP,
    GAP,
    STEP,
    ANGLE,
    READER_PIECE,
    READER_CLOSED,
    READER_VOLUME,
    STL_CLOSED,
    STL_TRIANGLES,
    STL_VOLUME,
    SOLID_VALID,
    SOLID_VOLUME,
    SOLID_AREA,
    SOLID_BOX,
    SOLID_DISTANCE,
    STEP_SOLIDS,
    STEP_VOLUME,
    FILE_WHOLE,
    FILE_MODEL,
    FILE_PIECES,
    FILE_POINTS,
    FILE_VOLUME,
    FILE_BOX,
    FILE_UNITS,
    FILE_UP,
    FILE_NORMALS,
    FILE_UVS,
    FILE_COLOR,
    SURVEY_CHANGE,
    SURVEY_OVERALL,
    SURVEY_GAP,
    SURVEY_TURN,
)
"""Every check, in the order of a report."""
