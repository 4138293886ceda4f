"""Curves of a solid's edges: where a run of a piece lies in space, on either skin of the sheet.

Straight runs of panels, and runs along a bend, are lines; arcs in panels and runs straight across a bend are
circles. Every other run of a strip is exact in the parameters of its cylinder, a line or an ellipse there;
in space it is a spline through it, and its wall is ruled between the splines of the two skins.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from OCP.collections import Array1_double, Array1_gp_Pnt, Array1_int, Array2_gp_Pnt
from OCP.Geom import (
    Geom_BSplineCurve,
    Geom_BSplineSurface,
    Geom_Circle,
    Geom_Curve,
    Geom_CylindricalSurface,
    Geom_Line,
)
from OCP.Geom2d import Geom2d_Curve, Geom2d_Ellipse, Geom2d_Line
from OCP.gp import gp_Ax2, gp_Ax3, gp_Ax22d, gp_Dir, gp_Dir2d, gp_Pnt, gp_Pnt2d

from steadfold.sheet.outline import Point, arc_of
from steadfold.sheet.solid.pieces import Piece, Run, SolidError

TOLERANCE_MM = 1e-7
"""How far curves, surfaces and corners may lie apart: the kernel's own measure of 'the same'."""

STRAIGHT_MM = 1e-7
"""A run of a strip that strays less from a line along, or straight across, the bend is taken as one."""


@dataclass(frozen=True)
class Way:
    """How a run lies in space: the curves on the lower and the upper skin, from `first` to `last` along both.

    `kind` is 'line', 'arc' (a circle in a panel's plane), 'across' (a circle about a bend's axis) or 'free';
    `wall` is the ruled surface of a free run, from 0 on the lower skin to the thickness on the upper.
    `plan` is the run in the parameters of the bend's cylinders, None where the piece is plane.
    """

    kind: str
    lower: Geom_Curve
    upper: Geom_Curve
    first: float
    last: float
    plan: Geom2d_Curve | None = None
    wall: Geom_BSplineSurface | None = None


@dataclass(frozen=True)
class Roll:
    """The cylinders a bent strip lies on: a point of their axis, their axes and the map to their parameters.

    Parameters are the angle from the parent's tangent line and the length along the axis.
    """

    centre: np.ndarray
    from_axis: np.ndarray
    onward: np.ndarray
    axis: np.ndarray
    radius_mm: float
    sign: float
    turn_per_mm: float

    @staticmethod
    def of(piece: Piece) -> Roll | None:
        """The roll of a strip; None for a panel and for a strip that lies plane."""
        curl, frame = piece.curl, piece.frame
        if curl is None or curl.flat:
            return None
        sign = math.copysign(1.0, curl.angle_rad)
        radius = curl.length_mm / abs(curl.angle_rad)
        centre = frame.origin + sign * radius * frame.face
        turn_per_mm = abs(curl.angle_rad) / curl.allowance_mm
        return Roll(centre, -sign * frame.face, frame.away, sign * frame.along, radius, sign, turn_per_mm)

    def uv(self, point: Point) -> Point:
        """Parameters of a point of the strip's plane."""
        return point[1] * self.turn_per_mm, self.sign * point[0]

    def skin_radius(self, height_mm: float) -> float:
        """Radius at a height over the middle surface."""
        return self.radius_mm - self.sign * height_mm

    def cylinder(self, height_mm: float) -> Geom_CylindricalSurface:
        """The surface at a height over the middle surface; it looks away from its axis."""
        place = gp_Ax3(pnt(self.centre), direction(self.axis), direction(self.from_axis))
        return Geom_CylindricalSurface(place, self.skin_radius(height_mm))

    def circle(self, start: Point, forward: bool, height_mm: float) -> Geom_Circle:
        """The circle across the bend through a point of the strip, its angle from 0 there."""
        u, v = self.uv(start)
        from_axis = math.cos(u) * self.from_axis + math.sin(u) * self.onward
        axis = self.axis if forward else -self.axis
        place = gp_Ax2(pnt(self.centre + v * self.axis), direction(axis), direction(from_axis))
        return Geom_Circle(place, self.skin_radius(height_mm))


def way_of(piece: Piece, run: Run, half_mm: float) -> Way:
    """The way of a run, for a sheet of which each skin lies `half_mm` from the middle surface."""
    roll = Roll.of(piece)
    (x0, y0), (x1, y1) = run.start, run.end
    if roll is None:
        if not run.bulge:
            return _line(piece, run, half_mm, None)
        if piece.curl is None or abs(piece.curl.stretch - 1) < 1e-12:
            return _arc(piece, run, half_mm)
        return _free_arc(piece, run, half_mm, None)
    if run.bulge:
        return _free_arc(piece, run, half_mm, roll)
    if abs(y1 - y0) < STRAIGHT_MM:
        (u, v), ahead = roll.uv(run.start), roll.sign * math.copysign(1.0, x1 - x0)
        return _line(piece, run, half_mm, Geom2d_Line(gp_Pnt2d(u, v), gp_Dir2d(0.0, ahead)))
    if abs(x1 - x0) < STRAIGHT_MM:
        forward = y1 > y0
        plan = Geom2d_Line(gp_Pnt2d(*roll.uv(run.start)), gp_Dir2d(1.0 if forward else -1.0, 0.0))
        lower, upper = (roll.circle(run.start, forward, h) for h in (-half_mm, half_mm))
        return Way("across", lower, upper, 0.0, abs(y1 - y0) * roll.turn_per_mm, plan)
    (u0, v0), (u1, v1) = roll.uv(run.start), roll.uv(run.end)
    length = math.hypot(u1 - u0, v1 - v0)
    plan = Geom2d_Line(gp_Pnt2d(u0, v0), gp_Dir2d(u1 - u0, v1 - v0))

    def plane_points(s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return x0 + (x1 - x0) * s / length, y0 + (y1 - y0) * s / length

    return _free(piece, plane_points, 0.0, length, half_mm, plan)


def _line(piece: Piece, run: Run, half_mm: float, plan: Geom2d_Curve | None) -> Way:
    curves, length = [], 0.0
    for height in (-half_mm, half_mm):
        start, end = ends_of(piece, run, height)
        length = float(np.linalg.norm(end - start))
        curves.append(Geom_Line(pnt(start), direction(end - start)))
    return Way("line", curves[0], curves[1], 0.0, length, plan)


def _arc(piece: Piece, run: Run, half_mm: float) -> Way:
    centre, radius, angle, turn = arc_of(run.start, run.end, run.bulge)
    frame = piece.frame
    from_centre = math.cos(angle) * frame.along + math.sin(angle) * frame.away
    axis = frame.face if turn > 0 else -frame.face
    circles = []
    for height in (-half_mm, half_mm):
        middle = frame.points(np.array([centre]), height)[0]
        circles.append(Geom_Circle(gp_Ax2(pnt(middle), direction(axis), direction(from_centre)), radius))
    return Way("arc", circles[0], circles[1], 0.0, abs(turn))


def _free_arc(piece: Piece, run: Run, half_mm: float, roll: Roll | None) -> Way:
    """An arc of a strip: an ellipse in the cylinder's parameters, which stretch what is cut in the flat."""
    (cx, cy), radius, angle, turn = arc_of(run.start, run.end, run.bulge)
    sense = math.copysign(1.0, turn)
    first, plan, phase = sense * angle, None, 0.0
    if roll is not None:
        u, v = roll.uv((cx, cy))
        across = radius * roll.turn_per_mm
        towards_u, towards_v = gp_Dir2d(sense, 0.0), gp_Dir2d(0.0, roll.sign)
        if radius >= across:
            plan = Geom2d_Ellipse(gp_Ax22d(gp_Pnt2d(u, v), towards_v, towards_u), radius, across)
        else:  # the kernel wants the longer axis first: start a quarter turn earlier
            phase = 0.5 * math.pi
            against_v = gp_Dir2d(0.0, -roll.sign)
            plan = Geom2d_Ellipse(gp_Ax22d(gp_Pnt2d(u, v), towards_u, against_v), across, radius)

    def plane_points(s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        turned = sense * (s + phase)
        return cx + radius * np.cos(turned), cy + radius * np.sin(turned)

    first -= phase
    return _free(piece, plane_points, first, first + abs(turn), half_mm, plan)


def _free(
    piece: Piece,
    plane_points: Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]],
    first: float,
    last: float,
    half_mm: float,
    plan: Geom2d_Curve | None,
) -> Way:
    """Splines of degree 5 through a run on either skin, with the spans that the kernel's tolerance wants."""
    from scipy.interpolate import make_interp_spline

    def in_space(s: np.ndarray) -> np.ndarray:
        x, y = plane_points(s)
        return np.hstack([piece.points(x, y, -half_mm), piece.points(x, y, half_mm)])

    between = first + (last - first) * (np.arange(400) + 0.37) / 400
    exact = in_space(between)
    for spans in (4, 8, 16, 32, 64, 128):
        s = np.linspace(first, last, spans + 6)
        spline = make_interp_spline(s, in_space(s), k=5)
        apart = float(np.abs(spline(between) - exact).max())
        if apart < 0.2 * TOLERANCE_MM:
            break
    else:
        raise SolidError(f"an edge of {piece.name} cannot be drawn closer than {apart:.1g} mm")
    lower, upper = spline.c[:, :3], spline.c[:, 3:]
    knots, counts = np.unique(spline.t, return_counts=True)
    wall = _ruled(lower, upper, knots, counts, 2 * half_mm)
    return Way("free", _spline(lower, knots, counts), _spline(upper, knots, counts), first, last, plan, wall)


def _spline(poles: np.ndarray, knots: np.ndarray, counts: np.ndarray) -> Geom_BSplineCurve:
    points = Array1_gp_Pnt(1, len(poles))
    for i, pole in enumerate(poles):
        points.SetValue(i + 1, pnt(pole))
    return Geom_BSplineCurve(points, _reals(knots), _counts(counts), 5)


def _ruled(
    lower: np.ndarray, upper: np.ndarray, knots: np.ndarray, counts: np.ndarray, thickness_mm: float
) -> Geom_BSplineSurface:
    points = Array2_gp_Pnt(1, len(lower), 1, 2)
    for i, (low, high) in enumerate(zip(lower, upper, strict=True)):
        points.SetValue(i + 1, 1, pnt(low))
        points.SetValue(i + 1, 2, pnt(high))
    across, ends = _reals(np.array([0.0, thickness_mm])), _counts(np.array([2, 2]))
    return Geom_BSplineSurface(points, _reals(knots), across, _counts(counts), ends, 5, 1)


def _reals(values: np.ndarray) -> Array1_double:
    array = Array1_double(1, len(values))
    for i, value in enumerate(values):
        array.SetValue(i + 1, float(value))
    return array


def _counts(values: np.ndarray) -> Array1_int:
    array = Array1_int(1, len(values))
    for i, value in enumerate(values):
        array.SetValue(i + 1, int(value))
    return array


def ends_of(piece: Piece, run: Run, height_mm: float) -> np.ndarray:
    """Start and end of a run in space, shape (2, 3)."""
    return piece.points(np.array([run.start[0], run.end[0]]), np.array([run.start[1], run.end[1]]), height_mm)


def pnt(point: np.ndarray) -> gp_Pnt:
    """The kernel's point."""
    return gp_Pnt(float(point[0]), float(point[1]), float(point[2]))


def direction(vector: np.ndarray) -> gp_Dir:
    """The kernel's direction; the length of the vector does not matter."""
    return gp_Dir(float(vector[0]), float(vector[1]), float(vector[2]))
