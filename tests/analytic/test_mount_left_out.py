"""Metal too narrow for the strength model is told, not dropped in silence; plain parts have none."""

from __future__ import annotations

from dataclasses import replace

from steadfold.mount.telling import LEFT_OUT_SHARE, left_out
from steadfold.sheet.mesh import mesh
from steadfold.sheet.outline import polygon_outline
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import DrawnPanel, PanelTree, rectangular_panel


def flat(*panels: DrawnPanel) -> Part:
    return resolve(PanelTree(panels), "plate", 4.0, din_rule(4.0, 4.0)).part


def test_a_plain_plate_loses_nothing() -> None:
    part = flat(rectangular_panel("a", 100, 60))
    assert left_out(part, mesh(part)) == []


def test_long_slivers_are_told_with_their_area() -> None:
    """Two fingers 0.8 mm wide and 60 mm long on a plate 4 mm thick: 96 mm² by hand, of which the mesh may keep a stub."""
    corners = [(0, 0), (60, 0), (60, 40), (60.0, 100), (59.2, 100), (59.2, 40), (0.8, 40), (0.8, 100), (0, 100)]
    part = flat(DrawnPanel("a", polygon_outline(corners), False))
    made = mesh(part)
    (finding,) = left_out(part, made)
    assert finding.code == "metal-left-out"
    assert 60 < made.left_out_mm2 <= 97
    assert finding.value is not None and finding.value > 100 * LEFT_OUT_SHARE


def test_just_under_the_limit_is_not_told() -> None:
    part = flat(rectangular_panel("a", 100, 60))
    made = mesh(part)
    area = part.panels[0].area_mm2
    assert left_out(part, replace(made, left_out_mm2=0.99 * LEFT_OUT_SHARE * area)) == []
    assert left_out(part, replace(made, left_out_mm2=1.01 * LEFT_OUT_SHARE * area))
