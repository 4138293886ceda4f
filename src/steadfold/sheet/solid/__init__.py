"""The folded part as one exact solid: skins, bends and side walls, faces of one closed shell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from steadfold.sheet.part import Part
from steadfold.sheet.solid.pieces import SolidError, pieces_of

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Shape, TopoDS_Solid

__all__ = ["SolidError", "solid", "volume_mm3"]


def solid(part: Part, share: float | tuple[float, ...] = 1.0) -> TopoDS_Solid:
    """One closed solid of a part folded by a share (0 lies flat, 1 is folded fully); its faces look outward.

    The share is one for all bends, or one a bend in their order. The root panel's frame is the frame of space
    and the middle of its thickness is z = 0. Strips keep their length on the middle surface, so the volume is
    the same at every share.
    Panels that pass through each other when folded are not found here; see the clash check.
    Raises `SolidError` when the part is not one piece, or when the kernel's own check finds fault with it.
    """
    from OCP.BRepCheck import BRepCheck_Analyzer

    from steadfold.sheet.solid.kernel import kernel_solid

    made = kernel_solid(pieces_of(part, share))
    if not BRepCheck_Analyzer(made).IsValid():
        raise SolidError(f"the solid of {part.name!r} is not valid: its outline crosses or touches itself")
    return made


def volume_mm3(shape: TopoDS_Shape) -> float:
    """Volume of a solid, adaptively integrated to 1e-7 a face.

    Without a tolerance the kernel's integration was 6.5 % low on valid parts with splined walls.
    """
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, properties, 1e-7, False, False)
    return float(properties.Mass())
