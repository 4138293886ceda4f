"""Parts straight from a CAD file, without a job."""

from __future__ import annotations

from pathlib import Path

from steadfold.catalogue import material
from steadfold.fabricate.shop_file import typical_shop
from steadfold.job.models import CadFile, JobPart
from steadfold.mount.records import CaseChoices
from steadfold.review.records import PartReview
from steadfold.review.review import told
from steadfold.review.shaping import Shaped, assumed_k, read_cad
from steadfold.sheet.cad_file import CadRefused


def read_file(
    path: str | Path,
    material_name: str,
    k_factor: float | None = None,
    thickness_mm: float | None = None,
    inside_radius_mm: float | None = None,
    units: str | None = None,
    bend_angle_rad: float | None = None,
    layers: tuple[tuple[str, tuple[str, ...]], ...] = (),
) -> tuple[PartReview, ...]:
    """Every part of a STEP or DXF file, reviewed as far as its shape goes.

    Raises `CadRefused` for a file that cannot be read, `NotInCatalogue` for an unknown material.
    """
    file = Path(path)
    kind = {".step": "step", ".stp": "step", ".dxf": "dxf"}.get(file.suffix.lower())
    if kind is None:
        raise CadRefused(f"{file.name} is neither a STEP (.step, .stp) nor a DXF (.dxf) file")
    metal = material(material_name)
    cad = CadFile(kind, file.name, file, units, None, layers, bend_angle_rad)  # type: ignore[arg-type]
    ordered = ordered_part(file.stem, metal.id, k_factor, thickness_mm, inside_radius_mm, cad)
    shop = typical_shop()
    reading = read_cad(cad, ordered, metal, shop)
    found = []
    for recognised in reading.parts:
        part = recognised.part
        one = ordered_part(recognised.name, metal.id, k_factor, part.thickness_mm, inside_radius_mm, cad, recognised.copies)
        shape = Shaped(part, part.thickness_mm, (*reading.findings, *recognised.findings), assumed_k(part))
        found.append(told(one, metal, shape, None, shop))
    return tuple(found)


def ordered_part(
    name: str,
    material_id: str,
    k_factor: float | None,
    thickness_mm: float | None,
    inside_radius_mm: float | None,
    cad: CadFile,
    quantity: int = 1,
) -> JobPart:
    """A part of a job that was never written: drawn in CAD, nothing said of loads or wall."""
    return JobPart(
        name=name,
        quantity=max(quantity, 1),
        material=material_id,
        thickness_mm=thickness_mm,
        thickness_text="" if thickness_mm is None else f"{thickness_mm:g} mm",
        gauge=None,
        inside_radius_mm=inside_radius_mm,
        k_factor=k_factor,
        finish="none",
        shape=cad.kind,
        shape_values={},
        tree=None,
        cad=cad,
        cutouts=(),
        carries=(),
        mount=None,
        cases=CaseChoices(),
        certificate=None,
        grain="any",
        pulls=None,
        temperature_c=None,
        path=(),
    )
