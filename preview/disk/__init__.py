"""What several processes on one machine need of each other: locks, names for files in the making, the same modules.

beside; child; locking
"""

from preview.disk.beside import name_beside, settle, sweep
from preview.disk.child import PYTHON, same_modules
from preview.disk.locking import CannotLockError, alone, hold

__all__ = ["PYTHON", "CannotLockError", "alone", "hold", "name_beside", "same_modules", "settle", "sweep"]
