"""Loads the planar mesher without letting its geometry kernel leak into the rest of the process.

The mesher's wheel carries an older build of the same geometry kernel as the library for exact solids, and
opens it with its symbols visible to everything loaded later. A solid library loaded after it then calls into
the wrong build: it lost its messages, and the process ended with a segmentation fault (seen with
netgen-mesher 6.2.2608 loaded before cadquery-ocp-novtk 8.0.1). The mesher's own modules name what they need,
so they work when those symbols stay local.
"""

from __future__ import annotations

import ctypes
import threading
from types import ModuleType

_loading = threading.Lock()


def planar_mesher() -> ModuleType:
    """The module ``netgen.geom2d``, loaded so that the library for exact solids may come before or after it.

    Every use of the mesher goes through here; importing it elsewhere first undoes the protection.
    Raises ImportError when the mesher or a system library it needs is missing.
    """
    with _loading:
        visible = ctypes.RTLD_GLOBAL
        ctypes.RTLD_GLOBAL = ctypes.RTLD_LOCAL  # type: ignore[misc]
        try:
            import netgen.geom2d
        finally:
            ctypes.RTLD_GLOBAL = visible  # type: ignore[misc]
    return netgen.geom2d
