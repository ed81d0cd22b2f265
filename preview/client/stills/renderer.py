"""The renderer's own process: a job of plain arrays in, a PNG out.

    python renderer.py JOB.npz PICTURE.png

It runs apart from the command because a path tracer holds a gigabyte, swallows the interrupt key, and may bring its
process down; whoever started it can always end it. It uses nothing else of this package. On stdout it says how far
it is, a line each time: a word, a tab, a whole number of percent. It ends as soon as its stdin closes, so that it
never outlives the one who asked.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Record = dict[str, Any]

BOUNCES = 5
"""How many legs a path of light may have. Fewer leave corners dark: 2 bring 74 % of the light, 4 over 98 %."""
CHALK = 0.8
"""A finish at least this rough has no shine at all."""
THROUGH, KEPT = 0.40, 0.56
"""A clear coat lets this share of the light in and out, and throws this share of what comes from below back down
(fitted to the renderer's own, which loses more the rougher it is). What lies under a coat is made lighter by that,
so that a finish is seen in its own color."""
SHEEN = 0.04
"""What a coat gives back of itself, whatever lies under it."""
WHITE = 1.15
"""How bright, before the scale bends, a perfectly white thing is where the molding is best lit."""
BURNT = 1.5
"""How bright, likewise, the brightest 2 % of the whole picture may be."""
BEST_LIT = 90
"""The best lit of the molding: brighter than this many of a hundred of its pixels."""
KNEE = 0.72
"""Above this brightness the scale bends."""
LUMINANCE = np.array([0.2126, 0.7152, 0.0722], np.float32)
"""How much each part of linear sRGB light counts in its brightness (IEC 61966-2-1)."""


@dataclass(frozen=True)
class Mesh:
    """One body's points and normals (n, 3), and triangles (t, 3)."""

    points: Floats
    normals: Floats
    triangles: NDArray[np.uint32]


def main(job_file: str, picture_file: str) -> None:
    """Render one job.

    Beside the picture itself two guides for the noise filter are rendered, the color and the normal of what is seen:
    every mesh is made a lamp that shines with them, which is many times quicker than the renderer's own way.
    """
    threading.Thread(target=_end_with_stdin, daemon=True).start()
    import mitsuba as mi

    mi.set_variant("scalar_rgb")
    with np.load(job_file) as arrays:
        job: Record = json.loads(str(arrays["job"]))
        parts = [[arrays[f"{part}{i}"] for part in ("points", "normals", "triangles")] for i in _numbers(job)]
    meshes = [Mesh(*part) for part in parts]
    said = _listen(mi)

    said.now("tracing light")
    light = _traced(mi, _lit_scene(mi, job, meshes), job["samples"])
    said.now("tracing guides", 0, 50)
    color = [np.array([body["color"]], np.float32) for body in job["bodies"]]
    albedo = _traced(mi, _shining_scene(mi, job, meshes, color, 1.0), job["guide_samples"])
    said.now("tracing guides", 50, 100)
    # Normals are stored as 0 to 1, as no lamp shines with less than nothing.
    stored = [mesh.normals * 0.5 + 0.5 for mesh in meshes]
    normal = 2 * _traced(mi, _shining_scene(mi, job, meshes, stored, 0.5), job["guide_samples"]) - 1
    mark = [np.full((1, 3), body["molding"], np.float32) for body in job["bodies"]]
    molding = _traced(mi, _shining_scene(mi, job, meshes, mark, 0.0), 1)[..., 0] > 0.5
    said.now("clearing noise")
    albedo, normal = mended(albedo, normal)
    mi.Bitmap(exposed(_cleared(light, albedo, normal), albedo, molding)).write(picture_file)
    said.done(1.0)


def _end_with_stdin() -> None:
    """Wait until whoever asked for the picture closes our stdin (or dies), and leave at once."""
    sys.stdin.buffer.read()
    os._exit(1)


def _numbers(job: Record) -> range:
    return range(len(job["bodies"]))


class _Said:
    """Says on stdout what is being done, and how far it is."""

    def now(self, word: str, start: int = 0, stop: int = 100) -> None:
        """Begin a stage, or the part of one from `start` to `stop` percent."""
        self._word, self._start, self._stop = word, start, stop
        self.done(0.0)

    def done(self, share: float) -> None:
        """Say that a share (0 to 1) of that is done."""
        percent = self._start + (self._stop - self._start) * share
        sys.stdout.write(f"{self._word}\t{percent:.0f}\n")
        sys.stdout.flush()


def _listen(mi: Any) -> _Said:
    """Hear the renderer's own progress and its errors; nothing else that it says."""
    said = _Said()

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


def _traced(mi: Any, scene: Record, samples: int) -> Floats:
    """A scene's light (h, w, 3)."""
    image = np.array(mi.render(mi.load_dict(scene), spp=samples, seed=0), dtype=np.float32)
    return np.ascontiguousarray(image[..., :3])


def _lit_scene(mi: Any, job: Record, meshes: list[Mesh]) -> Record:
    scene = _empty_scene(mi, job, BOUNCES, job["everywhere"])
    for i, lamp in enumerate(job["lamps"]):
        place = mi.ScalarTransform4f().look_at(lamp["at"], lamp["toward"], [0, 0, 1])
        scene[f"lamp{i}"] = {
            "type": "rectangle",
            "to_world": place @ mi.ScalarTransform4f().scale(lamp["half_width"]),
            "emitter": {"type": "area", "radiance": _rgb(lamp["radiance"])},
        }
    for i, (mesh, body) in enumerate(zip(meshes, job["bodies"], strict=True)):
        scene[f"body{i}"] = _body(mi, mesh, bsdf=mi.load_dict(_surface(body)))
    return scene


def _shining_scene(mi: Any, job: Record, meshes: list[Mesh], shown: list[Floats], empty: float) -> Record:
    """Every mesh shines with the colors shown, one (1, 3) or one for each point (n, 3); elsewhere it is `empty`."""
    scene = _empty_scene(mi, job, 1, [empty] * 3)
    for i, (mesh, colors) in enumerate(zip(meshes, shown, strict=True)):
        lamp = {"type": "area", "radiance": {"type": "mesh_attribute", "name": "vertex_shown"}}
        scene[f"body{i}"] = _body(mi, mesh, colors, emitter=mi.load_dict(lamp))
    return scene


def _empty_scene(mi: Any, job: Record, bounces: int, everywhere: list[float]) -> Record:
    camera, (width, height) = job["camera"], job["size"]
    film = {"type": "hdrfilm", "width": width, "height": height, "pixel_format": "rgb"}
    return {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": bounces},
        "everywhere": {"type": "constant", "radiance": _rgb(everywhere)},
        "sensor": {
            "type": "perspective",
            "fov": camera["across"],
            "fov_axis": "x",
            "near_clip": 1.0,
            "far_clip": 1e7,
            "to_world": mi.ScalarTransform4f().look_at(camera["eye"], camera["target"], [0, 0, 1]),
            # The noise filter wants pixels that share no sample: no wider filter than a box.
            "film": film | {"component_format": "float32", "rfilter": {"type": "box"}},
            "sampler": {"type": "multijitter"},
        },
    }


def _surface(body: Record) -> Record:
    """How a finish answers to light; both sides of it, as walls are sheets."""
    color, roughness = _rgb(body["color"]), body["roughness"]
    if body["metallic"] > 0:
        bare = {"roughness": roughness, "metallic": body["metallic"]}
        surface: Record = {"type": "principled", "base_color": color} | bare
    elif roughness >= CHALK:
        surface = {"type": "diffuse", "reflectance": color}
    else:
        coat = {"nonlinear": True, "alpha": 0.75 * max(roughness, 0.1) ** 2}
        under = _rgb([part / (THROUGH + KEPT * part) for part in body["color"]])
        surface = {"type": "roughplastic", "diffuse_reflectance": under} | coat
    return {"type": "twosided", "surface": surface}


def _rgb(color: list[float]) -> Record:
    return {"type": "rgb", "value": list(color)}


def _body(mi: Any, mesh: Mesh, shown: Floats | None = None, **parts: Any) -> Any:
    properties = mi.Properties()
    for name, part in parts.items():
        properties[name] = part
    made = mi.Mesh("body", len(mesh.points), len(mesh.triangles), has_vertex_normals=True, props=properties)
    if shown is not None:
        made.add_attribute("vertex_shown", 3, np.broadcast_to(shown, mesh.points.shape).ravel())
    values = mi.traverse(made)
    values["vertex_positions"] = mesh.points.ravel()
    values["vertex_normals"] = mesh.normals.ravel()
    values["faces"] = mesh.triangles.ravel()
    values.update()
    return made


def mended(albedo: Floats, normal: Floats) -> tuple[Floats, Floats]:
    """The two guides (h, w, 3) without the pixels where a ray slipped between two triangles into the dark.

    Such a pixel's albedo is darker than all four beside it; both guides take their mean there.
    """
    bright = np.pad(albedo @ LUMINANCE, 1, mode="edge")
    beside = [bright[:-2, 1:-1], bright[2:, 1:-1], bright[1:-1, :-2], bright[1:-1, 2:]]
    slipped = bright[1:-1, 1:-1] < 0.97 * np.min(beside, axis=0)

    def filled(guide: Floats) -> Floats:
        wide = np.pad(guide, ((1, 1), (1, 1), (0, 0)), mode="edge")
        mean = (wide[:-2, 1:-1] + wide[2:, 1:-1] + wide[1:-1, :-2] + wide[1:-1, 2:]) / 4
        return np.where(slipped[..., None], mean, guide)

    return filled(albedo), filled(normal)


def _cleared(light: Floats, albedo: Floats, normal: Floats) -> Floats:
    """The light without its noise; the guides keep arrises and miters sharp."""
    import mitsuba_oidn as oidn

    device = oidn.Device(oidn.DeviceType.CPU)
    clear = oidn.denoise(light, albedo=albedo, normal=normal, hdr=True, clean_aux=True, device=device)
    return cast(Floats, np.asarray(clear))


def exposed(light: Floats, albedo: Floats, molding: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Linear light (h, w, 3) as the sRGB bytes of a picture (IEC 61966-2-1).

    It is made brighter or darker until a white thing where the molding (h, w) is best lit comes out just below
    white, so a gray finish stays gray; less bright where that would burn out what stands round it. Near white the
    scale bends.
    """
    falling = light @ LUMINANCE / (albedo @ LUMINANCE + SHEEN)
    best = float(np.percentile(falling[molding], BEST_LIT)) if molding.any() else 1.0
    bright = float(np.percentile(light @ LUMINANCE, 98))
    scaled = np.maximum(light, 0) * np.float32(min(WHITE / max(best, 1e-6), BURNT / max(bright, 1e-6)))
    room = 1 - KNEE
    bent = KNEE + room * -np.expm1(-np.maximum(scaled - KNEE, 0) / room)
    shown = np.where(scaled <= KNEE, scaled, bent)
    srgb = np.where(shown <= 0.0031308, shown * 12.92, 1.055 * shown ** (1 / 2.4) - 0.055)
    return cast(NDArray[np.uint8], np.rint(np.clip(srgb, 0, 1) * 255).astype(np.uint8))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
    # The libraries' own leaving waits for their threads, and ours still reads.
    sys.stdout.flush()
    os._exit(0)
