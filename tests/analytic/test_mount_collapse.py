"""Collapse in the rating: followed layer by layer where the sheet decides, the lower of the run and the sections taken.

Beside Newton's method with a new factorisation each step (`mechanics.collapse`, itself held to limit analysis in
test_mechanics_collapse.py) and the plastic hinge of a rectangle, Mp = fy b t² / 4 (any text on plastic design).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from steadfold.catalogue import material
from steadfold.job import read_job
from steadfold.mechanics import collapse
from steadfold.mount.answers import COLLAPSE_FACTOR
from steadfold.mount.rating import solved, strength
from steadfold.mount.records import Strength
from steadfold.review.holding import Prepared, prepared
from steadfold.review.shaping import shaped
from steadfold.review.shop import shop_of
from steadfold.sheet.part import Part

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def ready(file: str, name: str) -> tuple[Part, Prepared]:
    job = read_job(EXAMPLES / file)
    ordered = job.part(name)
    metal = material(ordered.material)
    part = shaped(job, ordered, metal, shop_of(job)).part
    assert part is not None
    assert ordered.mount is not None
    return part, prepared(ordered, ordered.mount, part, metal)


def rated(part: Part, asked: Prepared) -> Strength:
    return strength(part, asked.metal, asked.fixings, asked.carried, asked.choices, asked.capacity)


@pytest.fixture(scope="module")
def channel() -> tuple[Part, Prepared, Strength]:
    part, asked = ready("rigger-tines.toml", "channel tines")
    return part, asked, rated(part, asked)


def test_a_channel_that_gives_way_before_its_sections_is_rated_by_the_run(
    channel: tuple[Part, Prepared, Strength],
) -> None:
    _, _, found = channel
    run = found.collapse
    assert run is not None
    assert run.reached
    assert run.decides
    assert run.factor < 0.9 * run.by_section
    case = next(c for c in found.cases if c.name == run.case)
    assert case.load_factor_collapse == pytest.approx(run.factor)
    shares = [link.share for link in found.chain if link.share is not None]
    assert max(shares) >= COLLAPSE_FACTOR / run.factor - 1e-9
    assert found.rating_kg < found.carried_kg.high
    beside = next(check for check in found.hand if check.what.startswith("giving way"))
    assert (beside.by_hand, beside.by_model) == (run.by_section, run.factor)
    assert beside.why


def test_the_run_of_a_channel_on_its_wall_is_newtons(channel: tuple[Part, Prepared, Strength]) -> None:
    """The same wall and case, a coarser mesh, and a factorisation for every step: within 5 %."""
    part, asked, found = channel
    assert found.collapse is not None
    coarse = solved(part, asked.metal, asked.fixings, asked.carried, asked.choices, asked.capacity, 9.0, 1, 12)
    answer = next(a for a in coarse.answers if a.case.name == found.collapse.case)
    newton = collapse(coarse.here.structure, answer.case.loads, asked.metal.yield_mpa)
    assert newton.reached
    assert found.collapse.factor == pytest.approx(newton.limit, rel=0.05)


def test_a_flat_tine_gives_way_no_sooner_than_its_hinge() -> None:
    """Sections and hand agree on Mp; the run carries at least that, and says what stays at the factor wanted for set."""
    part, asked = ready("rigger-tines.toml", "flat tines 5 mm")
    found = rated(part, asked)
    run = found.collapse
    assert run is not None
    assert not run.decides
    assert run.factor >= run.by_section * (1 - 1e-6)
    case = next(c for c in found.cases if c.name == run.case)
    assert case.load_factor_collapse == pytest.approx(run.by_section)
    assert run.curve[0] == (0.0, 0.0)
    assert all(b[0] > a[0] and b[1] >= 0.98 * a[1] for a, b in zip(run.curve, run.curve[1:], strict=False))


def test_where_the_sheet_is_far_from_deciding_no_run_is_made() -> None:
    part, asked = ready("boat-shed.toml", "epoxy gun saddle")
    found = rated(part, replace(asked, choices=replace(asked.choices, sag_limit_mm=0.01)))
    assert found.weakest.name == "sag"
    assert found.collapse is None
