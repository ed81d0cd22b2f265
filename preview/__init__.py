"""Preview a run of molding: profiles laid along a measured plan, joined, checked, shown, exported, cut out.

`preview.load` is the way in for a program. Every room of the package is a module or a folder beside this file. Imports
run one way, downward, from `cli` to `errors` and `units`; tests/test_architecture.py holds the floors.
"""

from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from preview.library import (
        Arc,
        Line,
        PreviewError,
        Profile,
        Shape,
        enter_end,
        enter_format,
        enter_shape,
        load,
    )

__all__ = [
    "Arc",
    "Line",
    "PreviewError",
    "Profile",
    "Shape",
    "__version__",
    "enter_end",
    "enter_format",
    "enter_shape",
    "load",
]

try:
    __version__ = version("molding-preview")
except PackageNotFoundError:  # run from a source tree that was never installed
    __version__ = "0+uninstalled"


def __getattr__(name: str) -> Any:
    """What a program asks for, which is not read before it does: the package itself starts with nothing."""
    if name in __all__:
        from preview import library

        return getattr(library, name)
    raise AttributeError(f"module 'preview' has no attribute {name!r}")
