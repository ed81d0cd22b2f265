"""Other Python processes of our own."""

from __future__ import annotations

import os
import sys

PYTHON = (sys.executable, "-P")
"""Starts Python so that no module is taken from the folder in which it happens to be started."""


def same_modules() -> dict[str, str]:
    """The environment in which another Python finds the modules that this one finds."""
    return os.environ | {"PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
