"""Shell benchmarks: MacNeal & Harder, 'A proposed standard set of problems to test finite element accuracy',
Finite Elements in Analysis and Design 1 (1985) 3-20; Belytschko et al., 'Stress projection for membrane
and shear locking in shell finite elements', Comp. Meth. Appl. Mech. Eng. 51 (1985) 221-258 (pinched
cylinder); Cook, J. Struct. Div. ASCE 100 (1974) (tapered panel; 23.96 is the later fine-mesh value).

All expected values are recalled, save Scordelis-Lo 0.3024, which was read on an open page. Units are the
source's own. `within` is the accuracy asked of this mesh, set from the prototype of the same element.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from tests.comparisons import beside, source_value

from steadfold.mechanics import (
    Loads,
    Model,
    Shells,
    grid,
    held,
    nodes_at,
    shares_along,
    solve,
)


def scordelis_lo(cells: int) -> float:
    """Sag of the free edge's middle; a quarter: R 25, L 50, t 0.25, E 4.32e8, nu 0, weight 90 per area."""
    radius, length, half = 25.0, 50.0, np.radians(40)
    nodes, triangles = grid(cells, cells, lambda u, v: (
        radius * np.sin(half * u), length / 2 * v, radius * np.cos(half * u)))
    count = len(nodes)
    fixed = (held(count, nodes_at(nodes, y=0), "ux uz ry") | held(count, nodes_at(nodes, y=25), "uy rx rz")
             | held(count, nodes_at(nodes, x=0), "ux ry rz"))
    model = Model(nodes, shells=Shells(triangles, 0.25, 4.32e8, 0.0, 1e12), fixed=fixed)
    result = solve(model, [Loads(gravity_mm_s2=(0, 0, -90 / 0.25))])[0]
    return float(-result.displacement[nodes_at(nodes, x=radius * np.sin(half), y=25)[0], 2])


def pinched_cylinder(cells: int) -> float:
    """Give under the load; an eighth: R 300, L 600, t 3, E 3e6, nu 0.3, end diaphragms, P 1."""
    nodes, triangles = grid(cells, cells, lambda u, v: (
        300 * np.sin(np.pi / 2 * u), 300 * v, 300 * np.cos(np.pi / 2 * u)))
    count = len(nodes)
    fixed = (held(count, nodes_at(nodes, y=0), "ux uz ry") | held(count, nodes_at(nodes, y=300), "uy rx rz")
             | held(count, nodes_at(nodes, x=0), "ux ry rz") | held(count, nodes_at(nodes, z=0), "uz rx ry"))
    loaded = nodes_at(nodes, x=0, y=300)[0]
    forces = np.zeros((count, 6))
    forces[loaded, 2] = -0.25
    result = solve(Model(nodes, shells=Shells(triangles, 3.0, 3e6, 0.3), fixed=fixed), [Loads(forces)])[0]
    return float(-result.displacement[loaded, 2])


def hemisphere_with_hole(cells: int) -> float:
    """Give along the load; a quarter: R 10, t 0.04, E 6.825e7, nu 0.3, 18 degree hole, loads +-1."""
    top = np.radians(72)
    nodes, triangles = grid(cells, cells, lambda u, v: (
        10 * np.cos(top * v) * np.cos(np.pi / 2 * u), 10 * np.cos(top * v) * np.sin(np.pi / 2 * u),
        10 * np.sin(top * v)))
    count = len(nodes)
    out, inward = nodes_at(nodes, x=10, y=0)[0], nodes_at(nodes, x=0, y=10)[0]
    fixed = (held(count, nodes_at(nodes, y=0), "uy rx rz") | held(count, nodes_at(nodes, x=0), "ux ry rz")
             | held(count, out, "uz"))
    forces = np.zeros((count, 6))
    forces[out, 0], forces[inward, 1] = 1.0, -1.0
    result = solve(Model(nodes, shells=Shells(triangles, 0.04, 6.825e7, 0.3), fixed=fixed), [Loads(forces)])[0]
    return float(result.displacement[out, 0])


def cook(cells: int) -> float:
    """Rise of the tip's middle of the tapered panel, 48 by 44 / 16, E 1, nu 1/3, t 1, unit shear."""
    nodes, triangles = grid(cells, cells, lambda u, v: (48 * u, 44 * u + v * (44 - 28 * u), 0 * u))
    count, edge = len(nodes), nodes_at(nodes, x=48)
    fixed = held(count, nodes_at(nodes, x=0)) | held(count, range(count), "uz rx ry")
    forces = np.zeros((count, 6))
    forces[edge, 1] = shares_along(nodes, edge)
    result = solve(Model(nodes, shells=Shells(triangles, 1.0, 1.0, 1 / 3), fixed=fixed), [Loads(forces)])[0]
    return float(result.displacement[edge[len(edge) // 2], 1])


def cantilever(place, columns, rows, thickness, modulus, poisson, direction) -> float:  # type: ignore[no-untyped-def]
    """Mean motion of the loaded end (v = 0..1 at u = 1) along a unit load there; held fast at u = 0."""
    nodes, triangles = grid(columns, rows, place)
    count = len(nodes)
    root, tip = np.arange(rows + 1), count - 1 - np.arange(rows + 1)
    forces = np.zeros((count, 6))
    forces[tip, :3] = shares_along(nodes, tip)[:, None] * np.asarray(direction, dtype=float)
    model = Model(nodes, shells=Shells(triangles, thickness, modulus, poisson), fixed=held(count, root))
    return float((solve(model, [Loads(forces)])[0].displacement * forces).sum())


def twisted(thickness: float, direction) -> float:  # type: ignore[no-untyped-def]
    """L 12, w 1.1, twist 90 degrees, E 29e6, nu 0.22; held at the end that stands along y."""
    return cantilever(lambda u, v: (12 * u, 1.1 * (v - 0.5) * np.cos(np.pi / 2 * u),
                                    1.1 * (v - 0.5) * np.sin(np.pi / 2 * u)), 12, 2, thickness, 29e6, 0.22, direction)


def straight(direction) -> float:  # type: ignore[no-untyped-def]
    """L 6, depth 0.2, t 0.1, E 1e7, nu 0.3."""
    return cantilever(lambda u, v: (6 * u, 0.2 * v, 0 * u), 24, 4, 0.1, 1e7, 0.3, direction)


def curved(direction) -> float:  # type: ignore[no-untyped-def]
    """Radii 4.12 and 4.32, 90 degrees, t 0.1, E 1e7, nu 0.25."""
    return cantilever(lambda u, v: ((4.12 + 0.2 * v) * np.cos(np.pi / 2 * u), (4.12 + 0.2 * v) * np.sin(np.pi / 2 * u),
                                    0 * u), 24, 4, 0.1, 1e7, 0.25, direction)


@pytest.mark.parametrize(("ours", "published", "within"), [
    (lambda: scordelis_lo(16), 0.3024, 0.0045),
    (lambda: pinched_cylinder(16), 1.8248e-5, 0.0065),
    (lambda: hemisphere_with_hole(32), 0.0940, 0.0105),
    (lambda: cook(16), 23.96, 0.0145),
    (lambda: twisted(0.32, (0, 0, 1)), 5.424e-3, 0.008),
    (lambda: twisted(0.32, (0, 1, 0)), 1.754e-3, 0.0045),
    (lambda: straight((1, 0, 0)), 3.0e-5, 0.0025),
    (lambda: straight((0, 1, 0)), 0.1081, 0.001),
    (lambda: straight((0, 0, 1)), 0.4321, 0.007),
    (lambda: curved((0, 1, 0)), 0.08734, 0.0115),
], ids=["Scordelis-Lo roof", "pinched cylinder", "hemisphere with hole", "Cook's panel", "twisted beam in plane",
        "twisted beam out of plane", "straight beam, pull", "straight beam in plane", "straight beam out of plane",
        "curved beam in plane"])
def test_displacement_is_the_published_one(request, ours, published, within) -> None:  # type: ignore[no-untyped-def]
    """Straight beam out of plane: beam theory has no clamped width; with nu = 0 ours is 0.9999."""
    case = request.node.callspec.id
    source = "Cook 1974" if case.startswith("Cook") else "MacNeal & Harder 1985"
    assert ours() == source_value("shell benchmark", case, source, published, rel=within, recalled=True)


def test_twist_of_a_narrow_strip_is_that_of_thin_plates() -> None:
    """Curved beam out of plane, published 0.5022: ours is 0.90 of it. A known difference of theory: thin
    plates have J = b t³ / 3 where the true bar, twice as wide as thick, has 0.229 b t³. With that J the
    closed form of the quarter ring, P R³ (pi / 4 / EI + (3 pi / 4 - 2) / GJ), is met. The last percent
    is the clamped end, which keeps the strip flat across. Such narrow strips are to be beams.
    """
    radius, bend, twist = 4.22, 1e7 * 0.2 * 0.1**3 / 12, 4e6 * 0.2 * 0.1**3 / 3
    closed = radius**3 * (np.pi / 4 / bend + (3 * np.pi / 4 - 2) / twist)
    ours = curved((0, 0, 1))
    assert ours == source_value("shell benchmark", "curved beam out of plane, thin plate", "quarter ring, closed form", closed, rel=0.0105)
    why = "thin plates have J = b t³ / 3 where a bar twice as wide as thick has 0.229 b t³"
    assert beside("shell benchmark", "curved beam out of plane", "MacNeal & Harder 1985", 0.5022, ours, recalled=True, why=why) == (
        pytest.approx(0.896, abs=0.002)
    )


PLATES = [  # b/a, clamped, load: MacNeal & Harder 1985, table of the rectangular plate (recalled)
    (1, False, "even", 4.062), (1, False, "point", 11.60), (1, True, "even", 1.26), (1, True, "point", 5.60),
    (5, False, "even", 12.97), (5, False, "point", 16.96), (5, True, "even", 2.56), (5, True, "point", 7.23)]


def rectangular_plate(ratio: float, clamped: bool, load: str, cells: int) -> float:
    """Sag of the middle, a quarter: a 2, t 1e-4, E 1.7472e7, nu 0.3, even 1e-4 or point 4e-4."""
    half, other = 1.0, float(ratio)
    nodes, triangles = grid(cells, cells, lambda u, v: (half * u, other * v, 0 * u))
    count = len(nodes)
    far_x, far_y = nodes_at(nodes, x=half), nodes_at(nodes, y=other)
    rim = np.union1d(far_x, far_y)
    fixed = (held(count, nodes_at(nodes, x=0), "ry") | held(count, nodes_at(nodes, y=0), "rx")
             | held(count, range(count), "ux uy rz") | held(count, rim, "uz"))
    fixed |= held(count, rim, "rx ry") if clamped else held(count, far_x, "rx") | held(count, far_y, "ry")
    forces = np.zeros((count, 6))
    forces[0, 2] = 1e-4 if load == "point" else 0.0
    model = Model(nodes, shells=Shells(triangles, 1e-4, 1.7472e7, 0.3), fixed=fixed)
    case = Loads(forces, pressure_mpa=1e-4 if load == "even" else 0.0)
    return float(solve(model, [case])[0].displacement[0, 2])


@pytest.mark.parametrize(("ratio", "clamped", "load", "published"), PLATES)
def test_rectangular_plates_sag_as_published(ratio: int, clamped: bool, load: str, published: float) -> None:
    within = 0.0115 if ratio == 1 else 0.033
    case = f"{ratio} to 1, {'clamped' if clamped else 'simply supported'}, {load} load"
    found = rectangular_plate(ratio, clamped, load, 8)
    assert found == source_value("shell benchmark, plate", case, "MacNeal & Harder 1985", published, rel=within, recalled=True)


def test_refining_closes_in_on_the_published_shells() -> None:
    """Error at least falls threefold from 8 to 16 and from 16 to 32 cells where bending without stretch
    rules.
    """
    errors = [abs(hemisphere_with_hole(cells) / 0.0940 - 1) for cells in (8, 16, 32)]
    assert errors[0] > 3 * errors[1] > 9 * errors[2]
    panel = [abs(cook(cells) / 23.965 - 1) for cells in (4, 8, 16, 32)]
    assert all(coarse > 2 * fine for coarse, fine in pairwise(panel))
