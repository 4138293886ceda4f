"""A folded part with everything resolved: flat pieces of metal and the bends that join them.

This is the one record that flat, folded shape, solid, mesh, strength and fabrication work on, whether it
came from a job file, a ready-made shape, or another program's STEP or DXF file.

Every panel has its own plane frame (x, y) and looks at its viewer with its *face* (the side its frame's
drawing is seen from). A bend joins a parent to a child along a straight tangent line. A positive angle turns
the child towards the viewer of the parent's face.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from steadfold.sheet.allowance import bend_allowance, bend_deduction
from steadfold.sheet.outline import Face, Point


@dataclass(frozen=True)
class Panel:
    """A flat piece of the part, between tangent lines: what stays plane when it is folded.

    `faces` are its pieces of metal in its own frame (one, unless a cutout parts it); `extent_mm` is the
    width and height by outside dimensions where the panel was drawn with them.
    """

    name: str
    faces: tuple[Face, ...]
    extent_mm: tuple[float, float] | None = None

    @property
    def area_mm2(self) -> float:
        """Area of metal between the tangent lines."""
        return sum(face.area_mm2 for face in self.faces)


@dataclass(frozen=True)
class Bend:
    """A bend from a parent panel to a child panel.

    `angle_rad` is what the child turns through, signed; never 0, and beyond ±π only for a teardrop hem.
    `parent_point` and `child_point` are the same end of the bend, on the tangent line of the parent and of
    the child, each in that panel's frame; `*_along` runs along the bend, `*_away` is perpendicular to it:
    out of the parent, into the child. `faces` is the metal of the bend strip in its own frame: x from
    the point along the bend, y from the parent's tangent line to the child's, 0 to `allowance_mm`.
    """

    parent: int
    child: int
    angle_rad: float
    inside_radius_mm: float
    k_factor: float
    length_mm: float
    parent_point: Point
    parent_along: Point
    parent_away: Point
    child_point: Point
    child_along: Point
    child_away: Point
    faces: tuple[Face, ...]
    thickness_mm: float
    k_source: str = ""

    @property
    def allowance_mm(self) -> float:
        """Length of the bend in the flat."""
        return bend_allowance(self.angle_rad, self.inside_radius_mm, self.thickness_mm, self.k_factor)

    @property
    def deduction_mm(self) -> float:
        """What the flat is shorter than the two outside dimensions together."""
        return bend_deduction(self.angle_rad, self.inside_radius_mm, self.thickness_mm, self.k_factor)

    @property
    def middle_length_mm(self) -> float:
        """Length of the bend on the middle surface, which the mesh keeps."""
        return bend_allowance(self.angle_rad, self.inside_radius_mm, self.thickness_mm, 0.5)


@dataclass(frozen=True)
class SeamSpot:
    """A place where a seam ties two panels: in the frame of the first, and in that of the second."""

    first: Point
    second: Point


@dataclass(frozen=True)
class SeamHold:
    """What a seam may carry in service: a weld N for each mm, by the resultant; a fastener N across and along its axis.

    None is 'nobody says', and `why` says what is missing. `say` names the source. `throat_mm` of a weld, `fastener` of the
    others, by its name.
    """

    weld_n_per_mm: float | None = None
    shear_n: float | None = None
    tension_n: float | None = None
    say: str = ""
    why: str = ""
    throat_mm: float | None = None
    fastener: str | None = None


@dataclass(frozen=True)
class Seam:
    """Two panels joined where they meet in the folded shape, so that a ring of panels closes.

    `spots` are the places that are tied, even along `length_mm` of the first panel's edge, whose direction in the folded
    pose is `along`. `butt` is a weld of two edges end to end in one plane, which carries bending; others of
    one side only are taken as hinges about their own line.
    """

    first: int
    second: int
    how: Literal["welded", "bolted", "riveted"]
    spots: tuple[SeamSpot, ...]
    length_mm: float
    along: tuple[float, float, float]
    butt: bool
    hold: SeamHold


@dataclass(frozen=True)
class Part:
    """A folded part. `panels[0]` is the root; `bends` are in the order of a walk from the root, so that a
    bend's parent is the root or the child of an earlier bend, and every other panel is the child of one bend.

    `places` names groups of panels that loads may be put on, such as 'tines'. `seams` join panels that no bend joins.
    """

    name: str
    thickness_mm: float
    panels: tuple[Panel, ...]
    bends: tuple[Bend, ...]
    places: tuple[tuple[str, tuple[int, ...]], ...] = ()
    seams: tuple[Seam, ...] = ()

    def panel_index(self, name: str) -> int:
        """Index of the panel of that name; `KeyError` if there is none."""
        for index, panel in enumerate(self.panels):
            if panel.name == name:
                return index
        raise KeyError(name)

    def panels_at(self, place: str) -> tuple[int, ...]:
        """Panels that a place names: a group such as 'tines', or one panel; `KeyError` if neither."""
        for name, indices in self.places:
            if name == place:
                return indices
        return (self.panel_index(place),)

    @property
    def volume_mm3(self) -> float:
        """Volume of metal: panels' area times thickness plus the bends' sectors.

        The sector's part of a strip is its share of the flat strip times `a t (r + t / 2)` a millimetre of
        bend (the area of an annular sector).
        """
        t = self.thickness_mm
        volume = sum(panel.area_mm2 for panel in self.panels) * t
        for bend in self.bends:
            strip = sum(face.area_mm2 for face in bend.faces)
            volume += strip / bend.allowance_mm * abs(bend.angle_rad) * t * (bend.inside_radius_mm + 0.5 * t)
        return volume

    def renamed(self, name: str) -> Part:
        """The same part by another name."""
        return replace(self, name=name)
