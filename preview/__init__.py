"""Preview a run of molding: profiles laid along a measured plan, joined, checked, shown, exported, cut out.

Every room of the package is a module or a folder beside this file. Imports run one way, downward, from `cli`
to `errors` and `units`; tests/test_architecture.py holds the floors.
"""

from importlib.metadata import PackageNotFoundError, version

__all__ = ["__version__"]

try:
    __version__ = version("molding-preview")
except PackageNotFoundError:  # run from a source tree that was never installed
    __version__ = "0+uninstalled"
