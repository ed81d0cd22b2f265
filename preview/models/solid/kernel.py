"""Whether the CAD kernel can be loaded on this machine, and how it says that it failed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

from preview.errors import PreviewError

SYSTEM_LIBRARIES = {
    "libGL": "libgl1",
    "libX11": "libx11-6",
    "libexpat": "libexpat1",
    "libxcb": "libxcb1",
    "libz": "zlib1g",
}
"""The system libraries that cadquery loads and does not bring along, and Debian's packages for them."""
OFTEN_MISSING = ("libgl1", "libx11-6")
"""Only one missing library is told at a time; on a machine without a desktop it is both of these."""
REPORT = "build with --no-solid, which leaves out STEP and the solid proof, and report this scene to us"


def available() -> str | None:
    """None when cadquery can be loaded; else one sentence that says what is missing and what installs it."""
    try:
        import cadquery  # noqa: F401
    except ModuleNotFoundError as error:
        return f"the Python package {error.name} is not installed; install it with: pip install cadquery"
    except (ImportError, OSError) as error:
        return _missing(str(error))
    return None


def _missing(said: str) -> str:
    """What the loader's message means to whoever has to install something.

    >>> print(_missing("libX11.so.6: cannot open shared object file: No such file or directory"))
    cadquery needs the system library libX11.so.6, which is missing; on Debian or Ubuntu, install it with:
    apt-get install libgl1 libx11-6
    """
    found = re.match(r"((lib[\w+-]+)\.so[.\d]*): cannot open shared object file", said)
    if found is None:
        return (
            f"cadquery is installed but cannot be loaded ({said}); pip install --force-reinstall cadquery may repair it"
        )
    package = SYSTEM_LIBRARIES.get(found[2])
    problem = f"cadquery needs the system library {found[1]}, which is missing"
    if package is None:
        return f"{problem}; install the package of your system that holds it"
    wanted = " ".join(OFTEN_MISSING if package in OFTEN_MISSING else [package])
    return f"{problem}; on Debian or Ubuntu, install it with: apt-get install {wanted}"


@contextmanager
def guarded(doing: str, piece: str | None = None) -> Iterator[None]:
    """Turn whatever the CAD kernel raises inside into a PreviewError that says what failed, and on which piece."""
    try:
        yield
    except (PreviewError, OSError):
        raise
    except Exception as error:
        place = "" if piece is None else f'piece "{piece}"'
        said = str(error).strip() or type(error).__name__
        raise PreviewError(place, None, f"the CAD kernel failed while {doing}: {said}", REPORT) from error


@contextmanager
def silent() -> Iterator[None]:
    """Keep the CAD kernel from printing: what it has to say aloud goes to stdout, which is for data."""
    from OCP.Message import Message

    messenger = Message.DefaultMessenger_s()
    printers = list(messenger.Printers())
    for printer in printers:
        messenger.RemovePrinter(printer)
    try:
        yield
    finally:
        for printer in printers:
            messenger.AddPrinter(printer)
