"""The ready-made shapes, by the names in a job file."""

from steadfold.sheet.shapes.holders import SADDLE, SHELF, SQUARE_POCKET, TRAY
from steadfold.sheet.shapes.racks import HOLE_BAR, HOOK_STRIP, TINE_RACK
from steadfold.sheet.shapes.sections import ANGLE_BRACKET, CHANNEL, HAT
from steadfold.sheet.shapes.shape import Dimension, ReadyShape, ShapeError, Sheet, Value

SHAPES: dict[str, ReadyShape] = {
    shape.name: shape
    for shape in (
        TINE_RACK,
        HOLE_BAR,
        HOOK_STRIP,
        SADDLE,
        TRAY,
        SHELF,
        ANGLE_BRACKET,
        SQUARE_POCKET,
        CHANNEL,
        HAT,
    )
}
"""Every ready-made shape by its name."""

__all__ = ["SHAPES", "Dimension", "ReadyShape", "ShapeError", "Sheet", "Value"]
