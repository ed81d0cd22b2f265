"""What the sheet is made from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.client import Shown
from preview.scene import Brand, PaperName, Scene


@dataclass(frozen=True)
class Photo:
    """A picture of the job: its name, what it shows in a sentence, a JPEG or a PNG, and its size in pixels."""

    name: str
    words: str
    image: bytes
    size: tuple[int, int]


@dataclass(frozen=True)
class SheetJob:
    """What a client is asked to sign.

    shown: the scene as drawn first, each with its inspection where there is one. photos: the most telling first.
    made: the date of making, as it is printed. rough: the pictures were made quickly; the sheet says so. beside: the
    options side by side, beside_numbers: which of those shown stand there, in its order. taken: the alternatives that
    were taken for the scene when the sheet was asked for.
    """

    scene: Scene
    shown: Sequence[Shown]
    photos: Sequence[Photo]
    brand: Brand
    paper: PaperName
    made: str
    rough: bool = False
    beside: Photo | None = None
    beside_numbers: tuple[int, ...] = ()
    taken: str = ""
