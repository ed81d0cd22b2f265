"""What a scene file says, as values: millimeters, radians, profiles placed, runs laid out."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from preview.profiles import Profile
from preview.runs import Run, Survey, Vec2
from preview.scene.shop import USUAL_SHOP, ShopDetails
from preview.scene.site import Site
from preview.units import Unit

FinishKind = Literal["paint", "clear", "stone", "metal"]
SurroundingKind = Literal["floor", "box", "column"]
PaperName = Literal["letter", "tabloid", "a4", "a3"]
ON_WOOD = ("paint", "clear")
"""The kinds of finish that molding is offered in."""
PictureHeight = Literal["eye", "knee"]
PictureView = Literal["whole", "end", "corner", "options"]
Color = tuple[float, float, float]
Vec3 = tuple[float, float, float]
USUAL_ACROSS = math.radians(34.0)
"""What a picture takes in from side to side, radians, where the scene does not say."""


@dataclass(frozen=True)
class Finish:
    """What a surface looks like. It never enters a check.

    color: sRGB, each part 0 to 1. roughness: 0 a mirror, 1 chalk. metallic: 1 bare metal, else 0.
    """

    name: str
    color: Color
    roughness: float = 0.5
    metallic: float = 0.0
    kind: FinishKind = "paint"


@dataclass(frozen=True)
class Member:
    """One layer of the build-up.

    profile: moved by out and up (mm), not by a run's level. source: the profile's file as the scene names it,
    or "sketched in the scene".
    """

    name: str
    profile: Profile
    out: float
    up: float
    finish: Finish
    source: str


@dataclass(frozen=True)
class Block:
    """A plinth block or a corner block: a square-ended piece that molding butts against.

    width: along the wall, mm. profile: its section, out from the wall and up, from the run's level. lap: how far one at
    an outside corner covers each of the two walls, mm; None for the usual. up: how far it is raised, or on the face of
    a wall stands back from the edge of the opening, mm; None for as far as the molding. source: "a square-edged block",
    or where its profile came from.
    """

    name: str
    width: float
    profile: Profile
    finish: Finish
    source: str
    lap: float | None = None
    up: float | None = None


@dataclass(frozen=True)
class RunInScene:
    """A run, the members that follow it in the order given, and the height (mm) of wall shown behind it.

    survey: what its measurements tell of each other; None where the scene does not say how far they may be off.
    """

    run: Run
    members: tuple[str, ...]
    wall: float | None = None
    survey: Survey | None = None


@dataclass(frozen=True)
class Surrounding:
    """Something that is not molding and makes a preview readable. It never enters a check.

    floor:  level ground at height `top`, from corner `at` by `size`; (0, 0) means as far as needed.
    box:    from corner `at` by `size` along x and y, then turned about `at` by `turn` (radians,
            counter-clockwise); its upright edges are rounded to `radius`.
    column: `at` is its center, `radius` its radius; `size` is its diameter both ways.
    Heights run from bottom to top; all lengths are mm. A floor's bottom is its top.
    """

    name: str
    kind: SurroundingKind
    at: Vec2
    size: Vec2
    radius: float
    bottom: float
    top: float
    turn: float
    finish: Finish


@dataclass(frozen=True)
class JobDetails:
    """What the title block of a sheet says of the job. It never enters a check, nor the model's digest.

    All as written; "" or () where the scene is silent. date: a day written as a date reads "2026-11-29". brand: the
    shop's own file, as `load_brand` reads it. paper: None for the usual.
    """

    client: str = ""
    place: str = ""
    number: str = ""
    drawn_by: str = ""
    revision: str = ""
    date: str = ""
    species: str = ""
    notes: tuple[str, ...] = ()
    includes: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    brand: Path | None = None
    paper: PaperName | None = None


@dataclass(frozen=True)
class Viewpoint:
    """A picture that the scene asks for: from `eye` to `target` (mm), or of a corner, or one that the tool frames.

    across: the angle it takes in from side to side, radians. corner: its number, from 1; whether the job has so many is
    for whoever chooses the pictures. height: that of the looker, None for the usual. view: None with eye and target.
    """

    name: str
    eye: Vec3 | None = None
    target: Vec3 | None = None
    across: float = USUAL_ACROSS
    corner: int | None = None
    height: PictureHeight | None = None
    view: PictureView | None = None


@dataclass(frozen=True)
class Brand:
    """Who makes the job, and how their papers look.

    lines: address, telephone and the like. logo: the bytes of a PNG or JPEG. color: for headings, readable as text on
    white. tint: a light ground that dark text is readable on, None for none. footer: a line at the foot of every page.
    """

    name: str = ""
    lines: tuple[str, ...] = ()
    logo: bytes | None = field(default=None, repr=False)
    color: Color = (0x2B / 255, 0x38 / 255, 0x44 / 255)
    tint: Color | None = (0xEF / 255, 0xF1 / 255, 0xF3 / 255)
    footer: str = ""


NEUTRAL = Brand()
"""The brand of a job that names none: a dark slate blue on white, and no name."""


@dataclass(frozen=True)
class Alternative:
    """One way to have a choice. says: words for the client, "" where the scene has none."""

    name: str
    says: str = ""


@dataclass(frozen=True)
class Choice:
    """A decision that is left to the client; of its alternatives, the first is the scene as drawn."""

    name: str
    alternatives: tuple[Alternative, ...]


@dataclass(frozen=True)
class Variant:
    """The scene with one alternative picked for each of its choices, by place; the scene has no choices any more."""

    picks: tuple[int, ...]
    scene: Scene


@dataclass(frozen=True)
class Picked:
    """Which alternatives were taken for a scene, and of which choices. picks: by place, None where none was named."""

    choices: tuple[Choice, ...]
    picks: tuple[int | None, ...]


@dataclass(frozen=True)
class Scene:
    """A whole scene file, checked and laid out.

    chord: how far, mm, a mesh may stray from a true curve. files: every file read, the scene's own first. site: what a
    joint forecast reckons with, None where the scene says nothing of it. variants: every combination of the choices,
    the scene as drawn first; none where the scene has no choices. finishes: all that the file declares, worn or not.
    job, pictures and shop: for the sheet, the pictures and the shop's lists; no option changes them. picked: what was
    taken of its choices, where it was picked by name.
    """

    title: str
    path: Path
    units: Unit
    chord: float
    members: tuple[Member, ...]
    runs: tuple[RunInScene, ...]
    surroundings: tuple[Surrounding, ...]
    files: tuple[Path, ...]
    site: Site | None = None
    blocks: tuple[Block, ...] = ()
    choices: tuple[Choice, ...] = ()
    variants: tuple[Variant, ...] = ()
    finishes: tuple[Finish, ...] = ()
    job: JobDetails = JobDetails()
    pictures: tuple[Viewpoint, ...] = ()
    shop: ShopDetails = USUAL_SHOP
    picked: Picked | None = None

    @property
    def paper(self) -> PaperName:
        """What its papers are laid out for: as the job says, else letter for inches and A4 for meters."""
        return self.job.paper or ("letter" if self.units in ("in", "ft") else "a4")

    def member(self, name: str) -> Member:
        """The member of that name. Raises KeyError when there is none."""
        for member in self.members:
            if member.name == name:
                return member
        raise KeyError(name)
