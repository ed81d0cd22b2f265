"""The renderer's own process: a job of plain arrays in, PNGs out.

    python renderer.py JOB.npz FOLDER

It runs apart from the command because a path tracer holds a gigabyte, swallows the interrupt key, and may bring its
process down; whoever started it can always end it. It uses nothing else of this package but the darkroom, which lies
beside it. On stdout it says how far it is with the whole job, a line each time: a whole number of percent. It ends as
soon as its stdin closes, so that it never outlives the one who asked. The pictures are picture0.png, picture1.png and
so on in the folder.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING or __name__ != "__main__":
    from preview.client.stills.darkroom import (
        FINE,
        Sight,
        brightness,
        exposed,
        mended,
        scales_of,
        seams,
        shared,
        softened,
    )
else:  # in a process of its own, without the package
    sys.path.insert(0, str(Path(__file__).parent))
    from darkroom import FINE, Sight, brightness, exposed, mended, scales_of, seams, shared, softened

Floats = NDArray[np.float32]
Record = dict[str, Any]

CHALK = 0.8
"""A finish at least this rough has no shine at all."""
THROUGH, KEPT = 0.40, 0.56
"""A clear coat lets this share of the light in and out, and throws this share of what comes from below back down
(fitted to the renderer's own, which loses more the rougher it is). What lies under a coat is made lighter by that,
so that a finish is seen in its own color."""
BRUSHED = 0.6
"""How much broader brushed metal shines across its strokes: 0 is the same every way."""
MOST_MEMORY = 700
"""How much the noise filter may take, in MB; it goes on in parts where that does not do."""
HAIRLINE = 0.38
"""How much light is missing in the hairline where two pieces meet."""
SKY_ASKED = 0.15
"""How often the light that comes from all sides is asked for on purpose, beside a lamp's 1: paths meet it anyway."""
LIGHT_COST, GUIDE_COST, CLEAR_COST = 2.0, 0.6, {"High": 9.0, "Balanced": 5.0, "Fast": 2.0}
"""What a sample of light, one of what is seen, and a pixel to be cleared of noise take, in millionths of a second."""


@dataclass(frozen=True)
class Mesh:
    """Bodies of one look: points and normals (n, 3), places in their texture (n, 2), triangles (t, 3).

    body (n,): the number of the body that a point belongs to, among those of the view, from 1.
    """

    look: Record
    points: Floats
    normals: Floats
    places: Floats
    triangles: NDArray[np.uint32]
    body: NDArray[np.int64]


@dataclass(frozen=True)
class Job:
    """What the file says, and its arrays."""

    said: Record
    arrays: dict[str, NDArray[Any]]

    def texture(self, number: int) -> Floats:
        """A texture's colors (h, w, 3)."""
        colors = self.said["textures"][number]
        share = self.arrays[f"tones{number}"][..., None].astype(np.float32) / np.float32(255)
        dark, light = (np.array(colors[end], np.float32) for end in ("dark", "light"))
        return dark + share * (light - dark)


def main(job_file: str, folder: str) -> None:
    """Make all pictures of a job: the light of each first, as their exposures depend on each other."""
    threading.Thread(target=_end_with_stdin, daemon=True).start()
    import mitsuba as mi

    mi.set_variant("scalar_rgb")
    with np.load(job_file) as arrays:
        job = Job(json.loads(str(arrays["job"])), {name: arrays[name] for name in arrays.files if name != "job"})
    views = job.said["views"]
    said = _listen(mi, sum(_cost(job, view) for view in views))
    tracer = _Tracer(mi, job, said)
    found: dict[int, Floats] = {}
    # Views of the same bodies follow each other: then these are set up once.
    for i in sorted(range(len(views)), key=lambda i: (views[i]["bodies"], i)):
        light, found[i] = tracer.traced(views[i])
        np.save(Path(folder) / f"light{i}.npy", light)
    scales = scales_of([found[i] for i in range(len(views))], [view["together"] for view in views])
    for i, scale in enumerate(scales):
        light = np.load(Path(folder) / f"light{i}.npy")
        mi.Bitmap(exposed(light, scale)).write(str(Path(folder) / f"picture{i}.png"))
    said.all()


def _end_with_stdin() -> None:
    """Wait until whoever asked for the picture closes our stdin (or dies), and leave at once."""
    sys.stdin.buffer.read()
    os._exit(1)


def _cost(job: Job, view: Record) -> float:
    """About how long a picture takes."""
    return sum(cost for cost in _costs(job.said["effort"], view["size"]))


def _costs(effort: Record, size: tuple[int, int]) -> tuple[float, float, float]:
    """Likewise: what is seen, the light, the noise."""
    pixels = size[0] * size[1] * effort["scale"] ** 2
    return pixels * FINE**2 * GUIDE_COST, pixels * effort["paths"] * LIGHT_COST, pixels * CLEAR_COST[effort["filter"]]


class _Said:
    """Says on stdout how far the whole job is."""

    def __init__(self, whole: float) -> None:
        self._whole, self._before, self._now, self._last = whole, 0.0, 0.0, -1

    def now(self, cost: float) -> None:
        """Begin a part of the work that takes so much of it; what was begun before is done."""
        self._before, self._now = self._before + self._now, cost
        self.done(0.0)

    def done(self, share: float) -> None:
        """Say that a share (0 to 1) of that is done."""
        self._say(min(99, int(100 * (self._before + self._now * share) / self._whole)))

    def all(self) -> None:
        """Say that the work is done."""
        self._say(100)

    def _say(self, percent: int) -> None:
        if percent > self._last:
            self._last = percent
            sys.stdout.write(f"{percent}\n")
            sys.stdout.flush()


def _listen(mi: Any, whole: float) -> _Said:
    """Hear the renderer's own progress and its errors; nothing else that it says."""
    said = _Said(whole)

    class Ear(mi.Appender):  # type: ignore[misc]
        def append(self, level: Any, text: str) -> None:
            if level >= mi.LogLevel.Error:
                sys.stderr.write(f"{text}\n")

        def log_progress(self, progress: float, *_: object) -> None:
            said.done(progress)

    mi.set_log_level(mi.LogLevel.Info)
    mi.logger().clear_appenders()
    mi.logger().add_appender(Ear())
    return said


class _Tracer:
    """Makes one picture after the other; what two in a row have in common is set up once."""

    def __init__(self, mi: Any, job: Job, said: _Said) -> None:
        self._mi, self._job, self._said = mi, job, said
        self._bodies: list[int] | None = None
        self._meshes: list[Mesh] = []
        self._lit_bodies: list[Any] = []
        self._plain_bodies: list[Any] = []
        self._textures: dict[tuple[int, bool], Any] = {}
        self._cleared = _noise_filter(job.said["effort"]["filter"], said)

    def traced(self, view: Record) -> tuple[Floats, Floats]:
        """The light (h, w, 3) of a view, free of noise, and what its exposure goes by: see `brightness`."""
        self._set_up(view)
        effort = self._job.said["effort"]
        size = list(view["size"])
        small = [max(1, round(side * effort["scale"])) for side in size]
        costs = _costs(effort, view["size"])
        self._said.now(costs[0])
        sight = self._sight(view, [FINE * side for side in small])
        layers = np.array([-1, *(self._job.said["bodies"][i]["layer"] for i in view["bodies"])])
        lines = softened(seams(sight, layers))
        lines = shared(lines) if effort["scale"] == 1 else self._resized(lines, size)
        molding = shared(layers[sight.body] >= 0) > 0.5
        albedo, normal = mended(self._albedo(view, small, sight), shared(sight.normal))
        del sight
        self._said.now(costs[1])
        light = self._pass(self._lit(view), view, small, effort["paths"], effort["legs"])
        self._said.now(costs[2])
        light = self._cleared(light, albedo, normal)
        found = brightness(light, albedo, molding)
        return self._resized(light, size) * (1 - HAIRLINE * lines[..., None]), found

    def _set_up(self, view: Record) -> None:
        mi = self._mi
        if view["bodies"] != self._bodies:
            self._bodies = view["bodies"]
            self._meshes = _merged(self._job, view["bodies"])
            surfaces = [mi.load_dict(self._surface(mesh.look)) for mesh in self._meshes]
            self._lit_bodies = [
                _body(mi, mesh, bsdf=surface) for mesh, surface in zip(self._meshes, surfaces, strict=True)
            ]
            self._plain_bodies = []

    def _lit(self, view: Record) -> Any:
        """The scene in a view's light."""
        mi = self._mi
        scene = _scene(self._job.said["everywhere"])
        for i, lamp in enumerate(view["lamps"]):
            place = mi.ScalarTransform4f().look_at(lamp["at"], lamp["toward"], [0, 0, 1])
            scene[f"lamp{i}"] = {
                "type": "rectangle",
                "to_world": place @ mi.ScalarTransform4f().scale(lamp["half_width"]),
                "emitter": {"type": "area", "radiance": _rgb(lamp["radiance"]), "sampling_weight": lamp["asked"]},
            }
        return mi.load_dict(scene | {f"body{i}": body for i, body in enumerate(self._lit_bodies)})

    def _sight(self, view: Record, size: list[int]) -> Sight:
        """What is seen, a sample for each pixel of `size`.

        Every mesh is made a lamp that shines with what is asked for, which is many times quicker than the renderer's
        own way. There are three colors to say it with: the number of the body with, as its fraction, how far the
        normal leans to the right; how far it leans up; and the depth. No lamp shines with less than nothing.
        """
        mi = self._mi
        eye, axes = np.array(view["camera"]["eye"], np.float32), _axes(view["camera"])
        scene = _scene([0.0, 0.0, 0.0])
        for i, mesh in enumerate(self._meshes):
            lean = mesh.normals @ axes[:2].T
            depth = np.maximum(0, (mesh.points - eye) @ axes[2])
            shown = np.column_stack([mesh.body + 0.5 + 0.49 * lean[:, 0], 1 + lean[:, 1], depth]).astype(np.float32)
            lamp = {"type": "area", "radiance": {"type": "mesh_attribute", "name": "vertex_shown"}}
            scene[f"body{i}"] = _body(mi, mesh, shown, emitter=mi.load_dict(lamp))
        said, up, depth = np.moveaxis(self._pass(mi.load_dict(scene), view, size, 1), 2, 0)
        body = np.floor(said).astype(np.int32)
        something = body > 0
        right, up = np.where(something, (said - body - 0.5) / 0.49, 0), np.where(something, up - 1, 0)
        toward = np.where(something, np.sqrt(np.maximum(0, 1 - right**2 - up**2)), 0)
        width = 2 * float(np.tan(np.radians(view["camera"]["across"]) / 2)) / size[0]
        return Sight(body, np.stack([right, up, toward], axis=2), np.ascontiguousarray(depth), width)

    def _albedo(self, view: Record, size: list[int], sight: Sight) -> Floats:
        """The color of what is seen (h, w, 3), without any light on it."""
        bodies = [self._job.said["bodies"][i] for i in view["bodies"]]
        if all(body["texture"] is None for body in bodies):
            return shared(np.array([[1.0] * 3, *(body["color"] for body in bodies)], np.float32)[sight.body])
        if not self._plain_bodies:
            lamps = ({"type": "area", "radiance": self._shade(mesh.look)} for mesh in self._meshes)
            self._plain_bodies = [
                _body(self._mi, mesh, emitter=self._mi.load_dict(lamp))
                for mesh, lamp in zip(self._meshes, lamps, strict=True)
            ]
        scene = _scene([1.0, 1.0, 1.0]) | {f"body{i}": body for i, body in enumerate(self._plain_bodies)}
        return self._pass(self._mi.load_dict(scene), view, size, FINE**2)

    def _pass(self, scene: Any, view: Record, size: list[int], samples: int, legs: int = 1) -> Floats:
        """A scene's light (h, w, 3) from the view's camera."""
        mi, camera = self._mi, view["camera"]
        film = {"type": "hdrfilm", "width": size[0], "height": size[1], "pixel_format": "rgb"}
        sensor = {
            "type": "perspective",
            "fov": camera["across"],
            "fov_axis": "x",
            "near_clip": 1.0,
            "far_clip": 1e7,
            "to_world": mi.ScalarTransform4f().look_at(camera["eye"], camera["target"], [0, 0, 1]),
            # The noise filter wants pixels that share no sample: no wider filter than a box.
            "film": film | {"component_format": "float32", "rfilter": {"type": "box"}},
            "sampler": {"type": "multijitter", "sample_count": samples},
        }
        integrator = mi.load_dict({"type": "path", "max_depth": legs, "rr_depth": 3})
        image = mi.render(scene, sensor=mi.load_dict(sensor), integrator=integrator, spp=samples, seed=0)
        return np.ascontiguousarray(np.array(image, dtype=np.float32)[..., :3])

    def _resized(self, image: Floats, size: list[int]) -> Floats:
        """An image (h, w) or (h, w, 3) made larger or smaller."""
        if list(image.shape[1::-1]) == size:
            return image
        smooth = self._mi.load_dict({"type": "catmullrom"})
        found = np.array(self._mi.Bitmap(image).resample(size, smooth), dtype=np.float32)
        return found.reshape(size[1], size[0], *image.shape[2:])

    def _shade(self, look: Record, *, under: bool = False) -> Any:
        """The color of a surface, from place to place where it has a texture; or what is under a coat of that color."""

        def made(color: Floats) -> Floats:
            return color / (THROUGH + KEPT * color) if under else color

        number = look["texture"]
        if number is None:
            return _rgb(made(np.array(look["color"], np.float32)).tolist())
        if (number, under) not in self._textures:
            bitmap = self._mi.Bitmap(made(self._job.texture(number)))
            texture = {"type": "bitmap", "bitmap": bitmap, "raw": True, "format": "fp16"}
            self._textures[number, under] = self._mi.load_dict(texture)
        return self._textures[number, under]

    def _surface(self, look: Record) -> Record:
        """How a finish answers to light; both sides of it, as walls are sheets."""
        roughness = look["roughness"]
        if look["metallic"] > 0:
            bare = {"roughness": roughness, "metallic": look["metallic"]}
            if look["texture"] is not None:
                bare["anisotropic"] = BRUSHED
            surface: Record = {"type": "principled", "base_color": self._shade(look)} | bare
        elif roughness >= CHALK:
            surface = {"type": "diffuse", "reflectance": self._shade(look)}
        else:
            coat = {"nonlinear": True, "alpha": 0.75 * max(roughness, 0.1) ** 2}
            surface = {"type": "roughplastic", "diffuse_reflectance": self._shade(look, under=True)} | coat
        return {"type": "twosided", "surface": surface}


def _merged(job: Job, numbers: list[int]) -> list[Mesh]:
    """The bodies, those of one look as one mesh."""
    found: dict[str, list[Mesh]] = {}
    for place, i in enumerate(numbers):
        body = job.said["bodies"][i]
        look = {key: body[key] for key in ("color", "roughness", "metallic", "texture")}
        points, normals, triangles = (job.arrays[f"{part}{i}"] for part in ("points", "normals", "triangles"))
        places = job.arrays.get(f"places{i}", np.zeros((len(points), 2), np.float32))
        mesh = Mesh(look, points, normals, places, triangles, np.full(len(points), place + 1))
        found.setdefault(json.dumps(look), []).append(mesh)
    return [_joined(meshes) for meshes in found.values()]


def _joined(meshes: list[Mesh]) -> Mesh:
    first = np.cumsum([0, *(len(mesh.points) for mesh in meshes[:-1])])
    triangles = np.concatenate([mesh.triangles + np.uint32(start) for mesh, start in zip(meshes, first, strict=True)])
    points, normals, places, body = (
        np.concatenate([getattr(mesh, part) for mesh in meshes]) for part in ("points", "normals", "places", "body")
    )
    return Mesh(meshes[0].look, points, normals, places, triangles, body)


def _scene(everywhere: list[float]) -> Record:
    """A scene with nothing in it but light from all sides."""
    sky = {"type": "constant", "radiance": _rgb(everywhere), "sampling_weight": SKY_ASKED}
    return {"type": "scene", "everywhere": sky}


def _rgb(color: list[float]) -> Record:
    return {"type": "rgb", "value": list(color)}


def _body(mi: Any, mesh: Mesh, shown: Floats | None = None, **parts: Any) -> Any:
    properties = mi.Properties()
    for name, part in parts.items():
        properties[name] = part
    size = len(mesh.points), len(mesh.triangles)
    made = mi.Mesh("body", *size, has_vertex_normals=True, has_vertex_texcoords=True, props=properties)
    if shown is not None:
        made.add_attribute("vertex_shown", 3, shown.ravel())
    values = mi.traverse(made)
    values["vertex_positions"] = mesh.points.ravel()
    values["vertex_normals"] = mesh.normals.ravel()
    values["vertex_texcoords"] = mesh.places.ravel()
    values["faces"] = mesh.triangles.ravel()
    values.update()
    return made


def _axes(camera: Record) -> Floats:
    """Unit vectors to the right, up and toward what it looks at, as rows, of an upright camera."""
    ahead = np.subtract(camera["target"], camera["eye"], dtype=np.float64)
    ahead /= np.linalg.norm(ahead)
    right = np.array([ahead[1], -ahead[0], 0]) / np.hypot(ahead[0], ahead[1])
    return np.array([right, np.cross(right, ahead), ahead], np.float32)


def _noise_filter(thoroughness: str, said: _Said) -> Callable[[Floats, Floats, Floats], Floats]:
    """What clears light of its noise; the guides, albedo and normal, keep arrises and miters sharp."""
    import mitsuba_oidn as oidn

    device = oidn.Device(oidn.DeviceType.CPU)

    def go_on(share: float) -> bool:
        said.done(share)
        return True

    def cleared(light: Floats, albedo: Floats, normal: Floats) -> Floats:
        clear = np.empty_like(light)
        noise = device.new_filter("RT")  # each time: its memory is wanted for the next picture's light
        for name, image in (("color", light), ("albedo", albedo), ("normal", normal), ("output", clear)):
            noise.set_image(name, image)
        noise.hdr = noise.clean_aux = True
        noise.quality = getattr(oidn.Quality, thoroughness)
        noise.max_memory_mb = MOST_MEMORY
        noise.set_progress_monitor(go_on)
        noise.execute()
        noise.set_progress_monitor(None)
        return clear

    return cleared


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
    # The libraries' own leaving waits for their threads, and ours still reads.
    sys.stdout.flush()
    os._exit(0)
