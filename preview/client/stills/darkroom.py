"""What becomes of the light that was traced: hairlines at joints, exposure, the bytes of a picture.

Arrays in, arrays out. The renderer's process takes this file as it lies beside its own, and nothing else of ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

FINE = 2
"""What is seen is asked so many times along each side of a pixel."""
SHEEN = 0.04
"""What a coat gives back of itself, whatever lies under it."""
WHITE = 1.2
"""How bright, before the scale bends, a perfectly white thing is where the molding is best lit."""
MIDDLING = 0.85
"""How bright, likewise, it is where the molding is lit as most of it is: even light is no bright light."""
BURNT = 1.3
"""How bright, likewise, the brightest 2 % of the whole picture may be."""
APART = 2.0**1.5
"""A view's exposure is at most so many times that of all views, or so many times less: one and a half stops."""
BEST_LIT = 90
"""The best lit of the molding: brighter than this many of a hundred of its pixels."""
KNEE = 0.6
"""Above this brightness the scale bends."""
BRIGHTEST = 98
"""The brightest of the whole picture: brighter than this many of a hundred of its pixels."""
NEAR = 6.0
"""Two samples beside each other lie on surfaces that meet if one is no further behind the other than so many times
their width."""
LUMINANCE = np.array([0.2126, 0.7152, 0.0722], np.float32)
"""How much each part of linear sRGB light counts in its brightness (IEC 61966-2-1)."""


@dataclass(frozen=True)
class Sight:
    """What is seen at each of a grid of samples (h, w).

    body: its number, 0 for none. normal (h, w, 3): to the camera's right, up and toward it. depth: how far ahead of
    the eye it lies, mm. width: how wide a sample is, as a share of its depth.
    """

    body: NDArray[np.int32]
    normal: Floats
    depth: Floats
    width: float


def seams(sight: Sight, layers: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Where a sample (h, w) is the last of its piece before another of the same layer that it meets.

    layers: of each body by number, -1 for what shows no seams. Where one piece stands before the other, the depth
    jumps.
    """
    found = np.zeros(sight.body.shape, bool)
    layer = layers[sight.body]
    for one, other in (
        ((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
        ((slice(None, -1), slice(None)), (slice(1, None), slice(None))),
    ):
        apart = (sight.body[one] != sight.body[other]) & (layer[one] == layer[other]) & (layer[one] >= 0)
        behind = np.abs(sight.depth[one] - sight.depth[other])
        found[one] |= apart & (behind < NEAR * sight.width * sight.depth[one])
    return found


def softened(lines: NDArray[np.bool_]) -> Floats:
    """Lines one sample wide (h, w) as ones with soft edges, two samples wide."""
    wide = np.pad(lines.astype(np.float32), 1)
    across = wide[:, :-2] + 2 * wide[:, 1:-1] + wide[:, 2:]
    soft: Floats = np.minimum(1, (across[:-2] + 2 * across[1:-1] + across[2:]) / 8)
    return soft


def shared(samples: NDArray[Any]) -> Floats:
    """Samples (FINE h, FINE w, ...) as their means over the pixels (h, w, ...)."""
    high, wide = (side // FINE for side in samples.shape[:2])
    parts = samples.reshape(high, FINE, wide, FINE, *samples.shape[2:])
    return cast(Floats, np.ascontiguousarray(parts.mean(axis=(1, 3), dtype=np.float32)))


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


def brightness(light: Floats, albedo: Floats, molding: NDArray[np.bool_]) -> Floats:
    """What the exposure of a picture goes by, in a thousand steps from the least to the most (2, 1001).

    First the light that falls on the molding (h, w), as brightness: what a white thing there would give back.
    Then the brightness of everything. Of each picture as much is kept, so that all count alike.
    """
    bright = light @ LUMINANCE
    falling = bright / (albedo @ LUMINANCE + np.float32(SHEEN))
    steps = np.linspace(0, 100, 1001)
    return np.stack([np.percentile(part, steps) for part in (falling[molding] if molding.any() else bright, bright)])


def scales_of(found: list[Floats], together: list[int]) -> list[float]:
    """By how much to multiply the light of each view: that of its own, but near that of all.

    together: a number for each view; those that have the same one share a scale.
    """
    everything = scale_of(found)
    own = {
        each: scale_of([mine for mine, number in zip(found, together, strict=True) if number == each])
        for each in set(together)
    }
    return [min(max(own[number], everything / APART), everything * APART) for number in together]


def scale_of(found: list[Floats]) -> float:
    """By how much to multiply light so that a white thing where the molding is best lit comes out just below white.

    So a gray finish stays gray. It is less where most of the molding is lit as well as that, and where it would burn
    out what stands round the molding.
    """
    falling, bright = (np.concatenate([each[i] for each in found]) for i in (0, 1))
    best, middling = np.percentile(falling, [BEST_LIT, 50]).tolist()
    most = float(np.percentile(bright, BRIGHTEST))
    limits = ((WHITE, best), (MIDDLING, middling), (BURNT, most))
    return min(limit / max(light, 1e-6) for limit, light in limits)


def exposed(light: Floats, scale: float) -> NDArray[np.uint8]:
    """Linear light (h, w, 3) as the sRGB bytes of a picture (IEC 61966-2-1). Near white the scale bends."""
    shown = np.empty(light.shape, np.uint8)
    for row, line in enumerate(light):  # one by one: an image of this size is not wanted six times over
        scaled = np.maximum(line, 0) * np.float32(scale)
        room = 1 - KNEE
        bent = np.where(scaled <= KNEE, scaled, KNEE + room * -np.expm1(-np.maximum(scaled - KNEE, 0) / room))
        srgb = np.where(bent <= 0.0031308, bent * 12.92, 1.055 * bent ** (1 / 2.4) - 0.055)
        shown[row] = np.rint(np.clip(srgb, 0, 1) * 255)
    return shown
