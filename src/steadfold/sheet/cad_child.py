"""The child process that reads a STEP or DXF file: request on standard input, answer on standard output, both pickled.

Run as `python -m steadfold.sheet.cad_child`. It limits its own memory and time before the kernel is loaded.
"""

from __future__ import annotations

import os
import pickle
import sys
from typing import Any

NO_MEMORY = "the file needs more memory than it is given; give the sheet part alone"


def _limit(memory_bytes: int, seconds: float) -> None:
    try:
        import resource
    except ImportError:
        return
    for what, value in (
        (resource.RLIMIT_AS, memory_bytes),
        (resource.RLIMIT_CPU, int(seconds) + 2),
        (resource.RLIMIT_CORE, 0),
    ):
        hard = resource.getrlimit(what)[1]
        if hard != resource.RLIM_INFINITY:
            value = min(value, hard)
        resource.setrlimit(what, (value, hard))


def answer(request: dict[str, Any]) -> tuple[str, Any]:
    """What to send back: ('read', sheets and refusals, or a drawing) or ('refused', sentence)."""
    from steadfold.sheet.cad_file import CadRefused

    try:
        if request.get("kind") == "dxf":
            from steadfold.sheet.from_flat.entities import read_drawing

            return "read", read_drawing(request["path"], request["unit_mm"])
        from steadfold.sheet.from_solid.kernel import read_bodies
        from steadfold.sheet.from_solid.sheet import recognise

        found = read_bodies(request["path"], request["units"], request["faces"])
        sheets, refused = [], []
        for body in found.bodies:
            try:
                sheets.append(recognise(body, request["assumed_radius_mm"]))
            except CadRefused as error:
                refused.append((body.name, str(error)))
            except (ValueError, ArithmeticError, LookupError) as error:
                refused.append((body.name, f"its faces do not hang together ({error}); export the part again"))
        return "read", (tuple(sheets), tuple(refused), found.left_out, found.units)
    except CadRefused as error:
        return "refused", str(error)
    except ImportError as error:
        if _wants_memory(error):
            return "refused", NO_MEMORY
        what = error.name or str(error)
        return "refused", f"the library {what!r} that reads such files cannot be loaded; `steadfold doctor` says what is missing"
    except MemoryError:
        return "refused", NO_MEMORY


def _wants_memory(error: ImportError) -> bool:
    """A library that is there and found no room: the loader's own words are all that tells."""
    return "failed to map" in str(error) or "allocate memory" in str(error)


class _RecordPickler(pickle.Pickler):
    """Leaves out what outlines remember for speed."""

    def reducer_override(self, record: object) -> Any:
        """How an outline is rebuilt; everything else as usual."""
        from steadfold.sheet.outline import Outline

        if type(record) is Outline:
            return Outline, (record.points, record.bulges)
        return NotImplemented


def main() -> None:
    """Answer one request."""
    request = pickle.load(sys.stdin.buffer)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _limit(request["memory_bytes"], request["seconds"])
    private = os.dup(1)
    os.dup2(2, 1)
    with os.fdopen(private, "wb") as out:
        _RecordPickler(out).dump(answer(request))


if __name__ == "__main__":
    main()
