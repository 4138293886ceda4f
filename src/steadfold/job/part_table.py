"""One [[part]] of a job file: its metal, its thickness, how it is drawn, what it carries and where it hangs."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from steadfold.catalogue import Gauge, Material, NotInCatalogue, gauge, material
from steadfold.catalogue.finishes import names as finishes
from steadfold.job.cad import read_cad
from steadfold.job.fields import LONGEST_TEXT, Fields, is_number
from steadfold.job.models import CadFile, Grain, JobPart, PlacedCutout, Pulls
from steadfold.job.panels import read_panels
from steadfold.job.ready import Shapes, checked_tree, read_placed_cutouts, read_shape_values
from steadfold.job.seams import check_seams, read_seams
from steadfold.job.uses import check_places, read_carries, read_cases, read_certificate, read_mount
from steadfold.job.wording import not_listed, shown, typed
from steadfold.sheet.shapes.shape import Sheet, Value
from steadfold.sheet.tree import PanelTree

GRAINS: tuple[Grain, ...] = ("any", "along", "across")
PULLS: tuple[Pulls, ...] = ("along layers", "across layers")
THINNEST_MM = 0.1
THICKEST_MM = 100.0
HIGHEST_K = 0.5
_GAUGE = re.compile(r"\s*#?\s*\d{1,3}\s*(?:ga|gauge|gage|g)\.?\s*", re.IGNORECASE)


@dataclass(frozen=True)
class _Thickness:
    mm: float | None
    text: str = ""
    gauge: Gauge | None = None


@dataclass(frozen=True)
class _Drawn:
    """How the part is given: by a tree, by a file, or (then both are None) wrongly."""

    values: dict[str, Value]
    tree: PanelTree | None = None
    cad: CadFile | None = None
    cutouts: tuple[PlacedCutout, ...] = ()


def read_part(fields: Fields, folder: Path, shapes: Shapes) -> JobPart | None:
    """The part a table describes, or None with every problem noted; files it names lie relative to `folder`."""
    mark = fields.notebook.mark
    name = fields.text("name", required='"oar rack"')
    quantity = fields.count("quantity", 1, high=100_000)
    metal = _material(fields)
    shape = fields.choice("shape", ("panels", *shapes, "step", "dxf"))
    if "shape" not in fields:
        fields.missing("shape", '"panels", "step", "dxf" or a ready-made shape such as "tine rack"')
    thickness = _thickness(fields, metal, needed=shape != "step")
    radius = _inside_radius(fields)
    k_factor = fields.number(
        "k_factor",
        f"a K-factor is a share of the whole thickness, over 0 and at most {HIGHEST_K} (the k of DIN 6935 "
        "counts half the thickness: divide it by two)",
        high=HIGHEST_K,
    )
    finish = fields.choice("finish", finishes(), "none")
    grain = fields.choice("grain", GRAINS, "any")
    pulls = fields.choice("pulls", PULLS)
    if pulls is not None and metal is not None and metal.layers is None:
        fields.wrong("pulls", f"{metal.title} has no layers; this is for prints and wood")
    temperature = fields.measure("temperature", "temperature", low=-60.0, high=300.0)
    fields.text("note", longest=LONGEST_TEXT)
    certificate = read_certificate(fields)
    carries, mount, cases = read_carries(fields), read_mount(fields), read_cases(fields)
    seams = read_seams(fields)
    drawn = _drawn(fields, shape, folder, shapes, metal, thickness, radius)
    if drawn is not None:
        fields.done()
        if drawn.tree is not None and fields.notebook.mark == mark:
            check_places(fields, drawn.tree)
            check_seams(fields, drawn.tree, seams)
        elif drawn.cad is not None and seams:
            fields.wrong("seam", "a part from a CAD file has no panels by name to join; draw it of panels")
    if fields.notebook.mark != mark or metal is None or drawn is None or name is None or shape is None:
        return None
    return JobPart(
        name=name,
        quantity=quantity or 1,
        material=metal.id,
        thickness_mm=thickness.mm,
        thickness_text=thickness.text,
        gauge=thickness.gauge,
        inside_radius_mm=radius,
        k_factor=k_factor,
        finish=finish or "none",
        shape=shape,
        shape_values=drawn.values,
        tree=drawn.tree,
        cad=drawn.cad,
        cutouts=drawn.cutouts,
        carries=carries,
        mount=mount,
        cases=cases,
        certificate=certificate,
        grain=grain or "any",
        pulls=pulls,
        temperature_c=temperature,
        path=fields.steps,
        seams=seams,
    )


def _material(fields: Fields) -> Material | None:
    name = fields.text("material", required='"DC01", or another material that "steadfold facts" lists')
    if name is None:
        return None
    try:
        return material(name)
    except NotInCatalogue as error:
        fields.wrong("material", not_listed(error))
        return None


def _thickness(fields: Fields, metal: Material | None, needed: bool) -> _Thickness:
    """A length, or a gauge in the table of its own metal; a solid shows its own."""
    value = fields.raw("thickness")
    if value is None:
        if needed:
            fields.missing("thickness", '"2 mm", "11 ga" or "1/8 in"')
        return _Thickness(None)
    if isinstance(value, str) and _GAUGE.fullmatch(value):
        if metal is None:
            if "material" not in fields:
                fields.wrong(
                    "thickness",
                    "a gauge is read in the table of its metal; give the material, or a thickness in mm",
                )
            return _Thickness(None)
        try:
            read = gauge(value.strip().rstrip("."), metal)
        except NotInCatalogue as error:
            fields.wrong("thickness", not_listed(error))
            return _Thickness(None)
        return _Thickness(read.mm, value.strip(), read)
    if is_number(value) or (isinstance(value, str) and value.strip().isdigit()):
        fields.wrong("thickness", f'{shown(value)} has no unit; write "2 mm", "1/8 in", or "11 ga" for a gauge')
        return _Thickness(None)
    read_mm = fields.measure("length", "thickness", above=0.0)
    if read_mm is not None and not THINNEST_MM <= read_mm <= THICKEST_MM:
        fields.wrong("thickness", f"{shown(value)} is not sheet; from {THINNEST_MM:g} to {THICKEST_MM:g} mm")
        return _Thickness(None)
    return _Thickness(read_mm, value.strip() if isinstance(value, str) else "")


def _inside_radius(fields: Fields) -> float | None:
    value = fields.raw("inside_radius")
    if value is None or (isinstance(value, str) and value.strip().casefold() == "auto"):
        return None
    if not isinstance(value, str):
        fields.wrong("inside_radius", f'{typed(value)}; write "auto" or a length, like "3 mm"')
        return None
    return fields.length("inside_radius", above=0.0, high=1_000.0)


def _drawn(
    fields: Fields,
    shape: str | None,
    folder: Path,
    shapes: Shapes,
    metal: Material | None,
    thickness: _Thickness,
    radius: float | None,
) -> _Drawn | None:
    """The part's own drawing; None when its keys cannot even be told, because the shape is unknown."""
    if shape == "panels":
        return _Drawn({}, tree=read_panels(fields, thickness.mm))
    if shape in ("step", "dxf"):
        return _Drawn({}, cad=read_cad(fields, shape, folder))
    if shape is None:
        return None
    ready = shapes[shape]
    mark = fields.notebook.mark
    values = read_shape_values(fields, ready)
    cutouts = read_placed_cutouts(fields)
    if fields.notebook.mark != mark or thickness.mm is None or metal is None:
        return _Drawn(values)
    sheet = Sheet(thickness.mm, radius if radius is not None else first_radius_mm(metal, thickness.mm))
    return _Drawn(values, checked_tree(fields, ready, values, sheet, cutouts), None, cutouts)


def first_radius_mm(metal: Material, thickness_mm: float) -> float:
    """The inside radius that a shape is first laid out for when the job says 'auto': the material's design
    radius, else one thickness (common practice, no source)."""
    return (metal.bend_radius.design_t if metal.bend_radius is not None else 1.0) * thickness_mm
