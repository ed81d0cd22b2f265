"""Finds the profiles and scenes that ship with the package."""

from pathlib import Path
from typing import Literal

PACKAGE = Path(__file__).parent


def folder(kind: Literal["profiles", "scenes"]) -> Path:
    """The folder of shipped profile or scene files; a scene names a profile as `../profiles/NAME.toml`.

    In a source tree and an editable install it stands beside the package; a wheel has it in preview/data/.
    Raises FileNotFoundError where neither is there, which means that the installation is damaged.
    """
    for place in (PACKAGE / "data" / kind, PACKAGE.parent / kind):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"the {kind} that ship with molding-preview are missing; install it again")
