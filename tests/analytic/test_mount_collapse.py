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
from steadfold.mount import rating
from steadfold.mount.answers import COLLAPSE_FACTOR
from steadfold.mount.cuts import Line, bend_lines
from steadfold.mount.rating import solved, strength
from steadfold.mount.records import Strength
from steadfold.mount.structure import Mounted
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


def roots_only(here: Mounted) -> tuple[Line, ...]:
    """Cuts at the roots alone, as if nobody had thought of the reliefs beside them."""
    lines = bend_lines(here.part, here.mesh, here.pose, here.model)
    return tuple(line for line in lines if line.cuts[0].place.startswith("root of tine"))


@pytest.fixture(scope="module")
def channel() -> tuple[Part, Prepared, Strength]:
    part, asked = ready("rigger-tines.toml", "channel tines")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rating, "cut_lines", roots_only)
        return part, asked, rated(part, asked)


def test_a_notch_that_no_section_is_cut_at_is_found_by_the_run(
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


def test_sections_at_a_notch_promise_no_more_than_the_run_carries(channel: tuple[Part, Prepared, Strength]) -> None:
    """With the reliefs cut, the section there decides, below what the run of the other test carries."""
    part, asked, blind = channel
    found = rated(part, asked)
    assert blind.collapse is not None and found.collapse is not None and not found.collapse.decides
    assert 0.8 * blind.collapse.factor < found.collapse.by_section <= blind.collapse.factor
    assert found.rating_kg < blind.rating_kg


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
