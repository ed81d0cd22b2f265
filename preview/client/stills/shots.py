"""Which stills tell a client most of a job, and from where each is taken: chosen from the geometry alone."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from preview.build import Built
from preview.client.stills.beside import grid_of
from preview.client.stills.pictures import SIZE
from preview.client.stills.standing import (
    Floats,
    Setting,
    corner_camera,
    end_camera,
    setting_of,
    subject_of,
    whole_camera,
)
from preview.errors import PreviewError
from preview.scene import PictureHeight, Scene, Viewpoint, every_variant
from preview.units import counted
from preview.vantage import Camera, Corner, corner_names, corners_of, joint_places

ALIKE_TURN, ALIKE_RADIUS = np.radians(3.0), 1.0
"""Corners whose turns differ by less (radians), and curves whose radii do (mm), look the same in a picture."""
MOST_ALIKE = 4
"""Of corners that are alike so many are held against each other for the one that shows best."""
BETTER = 0.05
MOST_TILES = 8
"""So many pictures at the most stand side by side."""
SAME_WAY = np.radians(2.0)
"""Two views of a corner whose directions differ by less (radians) are nearly one, however far off each is taken ..."""
NEAR_WAY, SAME_DISTANCE = np.radians(5.0), 0.15
"""... or by less than this, if their distances are alike as well (to a share of the nearer)."""
HIGH = 300.0
"""What is lower above the floor than this, mm, is told best from the height of a knee."""
RANKS = ("turned", "curved", "curved miter", "mitered outside", "mitered", "coped", "block", "return")
"""What a corner is, the most telling first."""
SEEN_FROM: dict[PictureHeight, str] = {"eye": "standing before it", "knee": "kneeling before it"}
HEIGHT_NAMES: dict[PictureHeight, str] = {"eye": "at eye height", "knee": "at knee height"}


@dataclass(frozen=True)
class Frame:
    """One picture of a still. variant: its number among those built. caption: "" where it stands alone."""

    variant: int
    camera: Camera
    caption: str = ""


@dataclass(frozen=True)
class Still:
    """A picture for the client. key: the stem of its file's name. words: a sentence that says what it shows.

    frames: one; several, all from one camera, where options stand side by side.
    """

    key: str
    name: str
    frames: tuple[Frame, ...]
    words: str


@dataclass(frozen=True)
class _Place:
    """A corner with its number and name, what makes it like others, and which kind of corner is told first.

    cameras: those worked out so far, by their heights.
    """

    number: int
    name: str
    corner: Corner
    looks: tuple[object, ...]
    turn: float
    radius: float
    rank: int
    cameras: dict[PictureHeight, tuple[Camera, float]] = field(default_factory=dict, compare=False)

    def camera(self, setting: Setting, height: PictureHeight) -> tuple[Camera, float]:
        """The camera before it at a height, and the share of its faces that it shows."""
        if height not in self.cameras:
            self.cameras[height] = corner_camera(setting, self.corner, height, SIZE)
        return self.cameras[height]

    def like(self, other: _Place) -> bool:
        """Whether both look the same in a picture."""
        return (
            self.looks == other.looks
            and abs(self.turn - other.turn) <= ALIKE_TURN
            and abs(self.radius - other.radius) <= ALIKE_RADIUS
        )


def stills_of(scene: Scene, builts: Sequence[Built]) -> tuple[Still, ...]:
    """All stills of a scene, the most telling first.

    builts: every variant, the scene as drawn first. Raises PreviewError for a picture of a corner that is not there.
    """
    setting = setting_of(builts[0])
    places = _places(setting)
    chosen = _distinct(setting, places)
    whole = _whole(setting)
    ends = _ends(setting)
    options = _options(scene, builts, chosen)
    first, second = _first_two(chosen)
    corners = {place.number: _corner_stills(setting, place) for place in chosen}
    order = [place for place in (first, second) if place]
    others = [place for place in chosen if place not in order]
    found = [whole, *(corners[place.number][0] for place in order), *options, *ends]
    found += [corners[place.number][0] for place in others]
    found += [still for place in (*order, *others) for still in corners[place.number][1:]]
    given = [_given(setting, view, places, whole, options, ends) for view in scene.pictures]
    kept = [still for still in found if not any(still.frames == mine.frames for mine in given)]
    return _with_own_names([*given, *kept])


def telling(stills: Sequence[Still], count: int) -> tuple[Still, ...]:
    """The `count` stills that tell most together, as `stills_of` has them: those that the scene asks for first.

    Of several one always shows the options, where there are any: a client has to choose one. If it is not among the
    first, it is the last.
    """
    options = next((still for still in stills if len(still.frames) > 1), None)
    if count < 2 or options is None or options in stills[:count]:
        return tuple(stills[:count])
    return (*stills[: count - 1], options)


def _places(setting: Setting) -> list[_Place]:
    """The corners of the job, numbered as everywhere."""
    job, built = setting.job, setting.built
    joints = joint_places(job)
    turns = {
        (place.path, round(place.station * 10)): abs(built.joints[place.number].joint.turn)
        for place in reversed(joints)
    }
    members = {placed.run.name: placed.members for placed in built.scene.runs}
    runs = list(job.paths)
    corners = corners_of(job, joints)
    found = []
    for number, (corner, name) in enumerate(zip(corners, corner_names(job, corners), strict=True), start=1):
        turn, radius = turns.get((corner.path, round(corner.station * 10)), 0.0), 0.0
        pieces = [built.pieces[each] for each in corner.spots[0].pieces]
        if len(pieces) == 1 and pieces[0].kind == "curve":
            turn, radius = abs(pieces[0].element.sweep), pieces[0].element.radius
        # The angle of a corner that is out of square is among its words; how alike two are, their turns tell.
        made = (*(word for word in corner.words if not word.endswith("°")), members[runs[corner.path]])
        found.append(_Place(number, name, corner, made, turn, radius, _rank(corner.words)))
    return found


def _rank(words: Sequence[str]) -> int:
    said = " ".join(words)
    word = said if said in RANKS else "block" if words[0].endswith("block") else words[0]
    return RANKS.index(word) if word in RANKS else len(RANKS)


def _distinct(setting: Setting, places: Sequence[_Place]) -> list[_Place]:
    """One of each kind of corner, the one that shows best; the most telling kinds first."""
    kinds: list[list[_Place]] = []
    for place in places:
        alike = next((kind for kind in kinds if kind[0].like(place)), None)
        if alike is None:
            kinds.append([place])
        else:
            alike.append(place)
    return sorted(
        (_best_shown(setting, kind) for kind in kinds),
        key=lambda place: (place.rank, -round(place.turn, 2), place.number),
    )


def _best_shown(setting: Setting, alike: Sequence[_Place]) -> _Place:
    if len(alike) == 1:
        return alike[0]
    tried = alike[:MOST_ALIKE]
    shares = [each.camera(setting, _telling_height(setting, each))[1] for each in tried]
    return next(each for each, share in zip(tried, shares, strict=True) if share >= max(shares) - BETTER)


def _first_two(chosen: Sequence[_Place]) -> tuple[_Place | None, _Place | None]:
    """The two corners that tell most together: a curve and a joint, where there are both."""
    first = chosen[0] if chosen else None
    if first is None:
        return None, None
    joints = [place for place in chosen[1:] if not (first.radius and place.radius)]
    return first, next(iter([*joints, *chosen[1:]]), None)


def _telling_height(setting: Setting, place: _Place) -> PictureHeight:
    return "knee" if float(place.corner.spot.target[2]) - setting.floor < HIGH else "eye"


def _corner_stills(setting: Setting, place: _Place) -> list[Still]:
    """A corner from both heights, the more telling one first; from one, where that shows all that the other does."""
    height = _telling_height(setting, place)
    first = _corner_still(setting, place, height)
    second = _corner_still(setting, place, "eye" if height == "knee" else "knee")
    return [first] if _nearly_one(first.frames[0].camera, second.frames[0].camera) else [first, second]


def _nearly_one(one: Camera, other: Camera) -> bool:
    """Whether two cameras that look at the same thing give nearly the same picture."""
    ways = [np.subtract(camera.eye, camera.target) for camera in (one, other)]
    far = [float(np.linalg.norm(way)) for way in ways]
    apart = np.arccos(min(float(ways[0] @ ways[1]) / (far[0] * far[1]), 1.0))
    return bool(apart < SAME_WAY or (apart < NEAR_WAY and max(far) < (1 + SAME_DISTANCE) * min(far)))


def _corner_still(setting: Setting, place: _Place, height: PictureHeight) -> Still:
    camera, _ = place.camera(setting, height)
    name = f"{place.name}, {HEIGHT_NAMES[height]}"
    words = f"{place.name}: close up, as one sees it {SEEN_FROM[height]}."
    return Still(f"corner-{place.number}-{height}", name, (Frame(0, camera),), words)


def _whole(setting: Setting) -> Still:
    camera, inside = whole_camera(setting, SIZE)
    if inside:
        words = "The room as one sees it who stands in it: what is behind one is not in the picture."
        return Still("whole", "The room from inside", (Frame(0, camera),), words)
    return Still("whole", "The whole", (Frame(0, camera),), "All of the molding, with what stands round it.")


def _ends(setting: Setting) -> list[Still]:
    """An end of each build-up, where one shows."""
    found: dict[tuple[str, ...], Still] = {}
    for placed in setting.built.scene.runs:
        name = placed.run.name
        if placed.members in found or (camera := end_camera(setting, name, SIZE)) is None:
            continue
        words = f"An end of {name}, seen along the wall, so that its section shows."
        found[placed.members] = Still(f"end-{_stem(name)}", f"End of {name}", (Frame(0, camera),), words)
    return list(found.values())


def _options(scene: Scene, builts: Sequence[Built], chosen: Sequence[_Place]) -> list[Still]:
    """The scene as drawn and each alternative changed alone, from one camera; none where there is no choice."""
    picks = [variant.picks for variant in every_variant(scene)]
    shown = [0]
    captions = [_as_drawn(scene)]
    told = [alternative.name for choice in scene.choices for alternative in choice.alternatives[1:]]
    for number, choice in enumerate(scene.choices):
        for pick, alternative in enumerate(choice.alternatives[1:], start=1):
            alone = tuple(pick if i == number else 0 for i in range(len(scene.choices)))
            shown.append(picks.index(alone))
            twice = told.count(alternative.name) > 1
            captions.append(f"{choice.name}: {alternative.name}" if twice else alternative.name)
    if len(shown) == 1:
        return []
    left_out = len(shown) - MOST_TILES
    shown, captions = shown[:MOST_TILES], captions[:MOST_TILES]
    camera = _options_camera([builts[i] for i in shown], chosen, grid_of(len(shown), SIZE)[0])
    words = f"The same place {counted(len(shown), 'time')} over: as drawn, and with one thing changed in each other."
    words += f" {left_out} more are not shown." if left_out > 0 else ""
    frames = tuple(Frame(number, camera, caption) for number, caption in zip(shown, captions, strict=True))
    return [Still("options", "Options side by side", frames, words)]


def _as_drawn(scene: Scene) -> str:
    """What the scene as drawn is made with: the first alternative of each choice."""
    drawn = [choice.alternatives[0].name for choice in scene.choices]
    return f"as drawn: {', '.join(drawn)}"


def _options_camera(shown: Sequence[Built], chosen: Sequence[_Place], size: tuple[int, int]) -> Camera:
    """The camera of the corner at which every variant differs from the first; else that of the whole."""
    setting = setting_of(shown[0])
    for place in chosen:
        subject = subject_of(setting, place.corner).points
        box = np.array([subject.min(axis=0), subject.max(axis=0)])
        made = [_made_at(built, box) for built in shown]
        if all(each != made[0] for each in made[1:]):
            others = [near for built in shown[1:] for near in _near(built, box)]
            return corner_camera(setting, place.corner, _telling_height(setting, place), size, others)[0]
    return whole_camera(setting, size)[0]


def _made_at(built: Built, box: Floats) -> list[tuple[object, ...]]:
    """What makes a place: the kinds, radii, profiles and finishes of the pieces that reach into a box (2, 3)."""
    found: list[tuple[object, ...]] = []
    for piece, mesh, member in zip(built.pieces, built.meshes, built.members, strict=True):
        if (mesh.points.max(axis=0) >= box[0]).all() and (mesh.points.min(axis=0) <= box[1]).all():
            radius = round(piece.element.radius, 3)
            found.append((piece.run, piece.member, piece.kind, radius, member.profile, member.finish))
    return found


def _near(built: Built, box: Floats) -> list[Floats]:
    """The points of a variant that stand over the plan of a box (2, 3): what is higher or shorter than the first."""
    points = np.concatenate([mesh.points for mesh in built.meshes])
    within = ((points >= box[0]) & (points <= box[1]))[:, :2].all(axis=1)
    return [points[within]] if within.any() else []


def _given(
    setting: Setting,
    view: Viewpoint,
    places: Sequence[_Place],
    whole: Still,
    options: Sequence[Still],
    ends: Sequence[Still],
) -> Still:
    """A picture that the scene asks for. Raises PreviewError where what it is to show is not there."""
    key = _stem(view.name)
    if view.eye is not None and view.target is not None:
        camera = Camera(view.eye, view.target, view.across)
        return Still(key, view.name, (Frame(0, camera),), f"{view.name}.")
    file = setting.built.scene.path.name
    if view.corner is not None:
        place = next((each for each in places if each.number == view.corner), None)
        if place is None:
            raise _no_such_corner(view, places, file)
        found = _corner_still(setting, place, view.height or _telling_height(setting, place))
    elif view.view == "end":
        if not ends:
            problem = "no run has an end whose section can be seen"
            raise PreviewError(f'picture "{view.name}", view', '"end"', problem, "ask for a corner instead", file)
        found = ends[0]
    elif view.view == "options":
        if not options:
            problem = "the scene has no options to be shown side by side"
            raise PreviewError(f'picture "{view.name}", view', '"options"', problem, "take this picture out", file)
        found = options[0]
    else:
        found = whole
    return replace(found, key=key, name=view.name, words=f"{view.name}. {found.words}")


def _no_such_corner(view: Viewpoint, places: Sequence[_Place], file: str) -> PreviewError:
    where, value = f'picture "{view.name}", corner', str(view.corner)
    if not places:
        fix = 'write eye and target, or view = "whole"'
        return PreviewError(where, value, "the scene has no corners", fix, file)
    named = "\n".join(place.name for place in places)
    problem = f"the scene has {counted(len(places), 'corner')}:\n{named}"
    return PreviewError(where, value, problem, f"write a number from 1 to {len(places)}", file)


def _stem(name: str) -> str:
    """A name as the stem of a file's: small letters, figures and hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "picture"


def _with_own_names(stills: Sequence[Still]) -> tuple[Still, ...]:
    """The stills, with a number behind a key or a name that another has already, as either: both find a still."""
    taken: set[str] = set()
    found = []
    for still in stills:
        key, name, number = still.key, still.name, 2
        while taken & {key, name.casefold()}:
            key, name, number = f"{still.key}-{number}", f"{still.name} {number}", number + 1
        taken |= {key, name.casefold()}
        found.append(replace(still, key=key, name=name))
    return tuple(found)
