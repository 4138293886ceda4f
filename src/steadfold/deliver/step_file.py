"""The folded part as a STEP file: AP242 (ISO 10303-242), millimetres, one solid with its name.

The same part, name and date give the same bytes. The header is our own; the data section is the kernel's.
"""

from __future__ import annotations

import io
import math
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING

from steadfold.sheet.part import Part
from steadfold.sheet.solid import SolidError, solid, volume_mm3

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Shape

SAME_VOLUME = 1e-6
"""How far, relatively, the volume of the solid may be from that of the part before the file is refused."""

# The kernel keeps its settings for the whole process.
_writing = threading.Lock()
_STAND_IN = "NAME"


def step_bytes(part: Part, name: str, date: datetime) -> bytes:
    """The STEP file of a folded part as bytes; `name` is the product's, `date` the header's.

    Raises `SolidError` when the part has no solid, or one whose volume is not the part's.
    """
    made = solid(part)
    volume = volume_mm3(made)
    if not math.isclose(volume, part.volume_mm3, rel_tol=SAME_VOLUME):
        raise SolidError(
            f"the solid of {part.name!r} has {volume:.1f} mm³ where its panels and bends have "
            f"{part.volume_mm3:.1f} mm³; no STEP file is written of it"
        )
    text = _kernel_text(made)
    data = text[text.index("DATA;") :]
    quoted = step_string(name)
    data, products = re.subn(rf"PRODUCT\('{_STAND_IN}[^']*','[^']*'", lambda _: f"PRODUCT({quoted},{quoted}", data)
    data, solids = re.subn(r"MANIFOLD_SOLID_BREP\(''", lambda _: f"MANIFOLD_SOLID_BREP({quoted}", data)
    if (products, solids) != (1, 1):
        raise SolidError(f"the STEP file of {part.name!r} came out with {products} products and {solids} solids")
    return (_header(name, date) + data).encode("ascii")


def step_string(text: str) -> str:
    """A string of a STEP file (ISO 10303-21): in apostrophes, all that is not plain ASCII by its code.

    >>> step_string("Träger 'A'")
    "'Tr\\\\X2\\\\00E4\\\\X0\\\\ger ''A'''"
    """
    return "'" + "".join(_encoded(character) for character in text) + "'"


def _encoded(character: str) -> str:
    code = ord(character)
    if character in "'\\":
        return 2 * character
    if 0x20 <= code <= 0x7E:
        return character
    return f"\\X2\\{code:04X}\\X0\\" if code <= 0xFFFF else f"\\X4\\{code:08X}\\X0\\"


def _header(name: str, date: datetime) -> str:
    return (
        "ISO-10303-21;\nHEADER;\n"
        f"FILE_DESCRIPTION(({step_string('Folded sheet metal part')}),'2;1');\n"
        f"FILE_NAME({step_string(name)},'{date.isoformat(timespec='seconds')}',\n"
        "  (''),(''),'Open CASCADE Technology','steadfold','');\n"
        "FILE_SCHEMA(('AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF { 1 0 10303 442 1 1 4 }'));\n"
        "ENDSEC;\n"
    )


def _kernel_text(made: TopoDS_Shape) -> str:
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_Controller, STEPControl_ManifoldSolidBrep, STEPControl_Writer

    with _writing, _quiet_kernel():
        STEPControl_Controller.Init_s()
        for setting, value in (
            ("write.step.schema", "AP242DIS"),
            ("write.step.unit", "MM"),
            ("write.step.product.name", _STAND_IN),
        ):
            if not Interface_Static.SetCVal_s(setting, value):
                raise RuntimeError(f"the kernel does not know {setting}")
        # Curves in space say all; drawings in the surfaces' parameters would triple the file.
        Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)
        writer = STEPControl_Writer()
        stream = io.BytesIO()
        transferred = writer.Transfer(made, STEPControl_ManifoldSolidBrep, True)
        if transferred != IFSelect_RetDone or writer.WriteStream(stream) != IFSelect_RetDone:
            raise SolidError("the kernel could not write the solid as STEP")
    return stream.getvalue().decode("ascii")


@contextmanager
def _quiet_kernel() -> Iterator[None]:
    """Keep the kernel from printing its statistics among our own output."""
    from OCP.Message import Message, Message_Gravity

    printers = list(Message.DefaultMessenger_s().Printers())
    levels = [printer.GetTraceLevel() for printer in printers]
    for printer in printers:
        printer.SetTraceLevel(Message_Gravity.Message_Fail)
    try:
        yield
    finally:
        for printer, level in zip(printers, levels, strict=True):
            printer.SetTraceLevel(level)
