"""What is drawn of a step is where it was reckoned: nothing drawn overlaps the tools, and the sheet
touches them."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from steadfold.catalogue import material
from steadfold.fabricate.bend_plan import BendPlan
from steadfold.fabricate.making import bend_order
from steadfold.fabricate.shop_check import shop_check
from steadfold.fabricate.shop_file import typical_shop
from steadfold.fabricate.step_view import StepView, plan_views
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import PanelTree, rectangular_panel

STEEL, SHOP = material("DC01"), typical_shop()


def channel(degrees: float) -> Part:
    """A channel of 2 mm with legs of its own angle."""
    turn = math.radians(degrees)
    panels = (
        rectangular_panel("leg", 150, 25),
        rectangular_panel("web", 150, 80, "leg", "top", turn),
        rectangular_panel("other leg", 150, 25, "web", "top", turn),
    )
    return resolve(PanelTree(panels), "channel", 2.0, din_rule(2.0, 2.0, 0.42)).part


def drawn(part: Part, shares: tuple[float, ...]) -> list[StepView]:
    """All views of its plan."""
    plan = bend_order(part, STEEL, SHOP)
    assert isinstance(plan, BendPlan)
    return [view for views in plan_views(part, STEEL, SHOP, plan, shares) for view in views]


@pytest.mark.parametrize("degrees", [60.0, 90.0, 120.0])
def test_no_metal_is_drawn_inside_a_tool(degrees: float) -> None:
    for view in drawn(channel(degrees), (0.0, 0.25, 0.5, 0.75, 1.0)):
        tools = [shapely.Polygon(s.corners) for s in view.sections if s.what in ("punch", "ram", "die", "bed")]
        metal = [shapely.Polygon(s.corners) for s in view.sections if s.what in ("panel", "bend")]
        # Rounding of arcs by chords leaves some hundredths of a square millimetre.
        assert sum(shapely.intersection(a, b).area for a in tools for b in metal) < 0.2


@pytest.mark.parametrize("degrees", [60.0, 90.0, 120.0])
def test_the_sheet_is_drawn_touching_punch_and_die(degrees: float) -> None:
    for view in drawn(channel(degrees), (0.0, 1.0)):
        metal = shapely.union_all([shapely.Polygon(s.corners) for s in view.sections if s.what in ("panel", "bend")])
        for what in ("punch", "die"):
            tool = next(shapely.Polygon(s.corners) for s in view.sections if s.what == what)
            assert shapely.distance(tool, metal) < 0.05


def test_what_is_drawn_has_the_area_of_the_metal() -> None:
    """Both panels and strips as bands of 2 mm: flat or bent, the same length of sheet is drawn."""
    flat, bent = drawn(channel(90), (0.0, 1.0))[:2]
    area = [
        sum(shapely.Polygon(s.corners).area for s in view.sections if s.what in ("panel", "bend"))
        for view in (flat, bent)
    ]
    assert area[0] == pytest.approx(area[1], rel=0.01)


def test_a_hem_that_is_pressed_lies_level_between_the_plates() -> None:
    panels = (rectangular_panel("back", 150, 80), rectangular_panel("hem", 150, 20, "back", "bottom", math.pi))
    part = resolve(PanelTree(panels), "hemmed", 2.0, din_rule(2.0, 1.0, 0.42)).part
    pressed = drawn(part, (1.0,))[-1]
    back = next(s.corners for s in pressed.sections if s.name == "back")
    hem = next(s.corners for s in pressed.sections if s.name == "hem")
    assert (np.ptp(back[:, 1]), back[:, 1].max()) == pytest.approx((2.0, 0.0), abs=1e-6)
    # inside radius 1: the leg lies from 2 to 4 mm above the back's upper face
    assert (hem[:, 1].min(), hem[:, 1].max()) == pytest.approx((2.0, 4.0), abs=1e-6)


def test_a_shop_check_says_what_differs_and_what_is_wanting() -> None:
    check = shop_check(
        '[brake]\nlength = "2000 mm"\nangle_tolerance = "0.5 deg"\n[[die]]\nv = "16 mm"\n'
        '[[punch]]\nname = "plain"\nkind = "straight"\nhalf_thickness = "7 mm"\nheight = "120 mm"\n'
        'clamp_half_width = "45 mm"\nincluded = "85 deg"\ncapacity = "1000 kN/m"\n'
    )
    told = {difference.key: (difference.own, difference.typical) for difference in check.differences}
    assert told["brake.length_mm"] == ("2000", "3000")
    assert told["brake.angle_tolerance_rad"] == ("0.5 deg", "1 deg")
    assert told["punch"][0] == "plain"
    assert set(told) == {"brake.length_mm", "brake.angle_tolerance_rad", "punch", "die"}
    remarks = " ".join(check.remarks)
    assert "DIN 6935" in remarks
    assert "95 deg" in remarks
    assert "cut back" in remarks
    assert "For 3 mm the nearest die has V 16 mm; 24 mm is wanted." in check.remarks


def test_the_typical_shop_differs_from_itself_in_nothing() -> None:
    assert shop_check("").differences == ()
