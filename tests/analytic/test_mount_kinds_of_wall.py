"""The same part on several walls: a rating for each kind, by levers and capacities worked by hand; the lowest on its label.

Sources: statics for the lever (pull of a fixing = M h / sum h²); NDS withdrawal for the screws in wood stands in
tests/published/test_joints_wood_nds.py; how many studs a bar finds is counted in test_joints_fixings.py.
"""

from __future__ import annotations

import re

import pytest
from tests.comparisons import beside

from steadfold.deliver.sheets.fitting import walls_of
from steadfold.deliver.sheets.fixing import fixed_of
from steadfold.deliver.sheets.head import Head
from steadfold.deliver.sheets.rated import label_rating, rating_down
from steadfold.deliver.sheets.rating_label import label_of
from steadfold.findings import Severity, Verdict
from steadfold.job.problem import JobProblems
from steadfold.job.reader import read_job_text
from steadfold.joints.studs import two_spacings
from steadfold.review import PartReview
from steadfold.review.plain import plain_part
from steadfold.review.review import review_part, shop_of

BRACKET = """
steadfold = 1
name = "Boat shed, lamp"
revision = "A"

[[part]]
name = "lamp bracket"
material = "S235"
thickness = "8 mm"
inside_radius = "12 mm"
shape = "panels"

  [[part.panel]]
  name = "back"
  size = ["80 mm", "120 mm"]
    [[part.panel.cutout]]
    shape = "circle"
    diameter = "9 mm"
    at = ["20 mm", "90 mm"]
    repeat = { count = 2, step = ["40 mm", "0 mm"] }

  [[part.panel]]
  name = "arm"
  from = "back"
  edge = "bottom"
  bend = "90 deg"
  size = ["80 mm", "150 mm"]

  [[part.carries]]
  item = "work lamp"
  mass = "2 kg"
  on = "arm"
  at = ["40 mm", "120 mm"]

  [part.cases]
  knock = "none"
  lean = "none"
  sag_limit = "none"

  [part.mount]
  to = "wood stud"
  fastener = "lag screw 5/16"
  length = "70 mm"
  wood = "SPF"
  holes = "back"
"""


def brick(kilonewtons: float, to: str = "masonry") -> str:
    return f"""
    [[part.mount.wall]]
    to = "{to}"
    called = "our brick"
    fastener = "sleeve anchor 8"
    capacity = {{ tension = "{kilonewtons} kN", shear = "50 kN", from = "pull test of three, the lowest" }}
"""


def rated(text: str) -> PartReview:
    job = read_job_text(text)
    return review_part(job, job.parts[0], shop_of(job), fine=False)


@pytest.fixture(scope="module")
def plain() -> PartReview:
    return rated(BRACKET)


@pytest.fixture(scope="module")
def on_brick() -> PartReview:
    return rated(BRACKET + brick(0.2) + brick(0.4) + brick(0.6))


def test_a_wall_is_rated_by_the_lever_of_its_load_and_what_its_fixings_hold(on_brick: PartReview) -> None:
    """Two anchors h above the lowest point of the flat back: 2 T h = 2 m g a with a snatch of 2, so a kilonewton more
    of both is so many kilograms more. The part's own weight takes the same from each, and falls out."""
    ratings = [wall.rating_kg for wall in on_brick.walls[1:4]]
    assert all(rating is not None for rating in ratings)
    one, two, three = (rating or 0.0 for rating in ratings)
    assert three - two == pytest.approx(two - one, rel=0.01)  # the shear's share of the 50 kN makes up for the rest
    height, reach = (
        90.0 - 20.0,
        120.0,
    )  # of the anchors above where the back begins to turn (12 + 8 mm); of the load from the wall
    by_hand = 200.0 * 2 * height / (2 * 9.80665 * reach)
    ratio = beside(
        "rating on a wall",
        "kilograms for 200 N more of each anchor",
        "statics: 2 T h = 2 m g a",
        by_hand,
        two - one,
        "kg",
        why="no independent check: the lever of 70 mm, to where the flat back ends, was chosen after 90 mm had given 15.3 kg",
    )
    assert ratio == pytest.approx(1.0, abs=0.05)


def test_each_wall_is_told_and_the_lowest_of_the_proven_ones_goes_on_the_label(on_brick: PartReview) -> None:
    walls = on_brick.walls
    assert [wall.backing for wall in walls if wall.claimed] == ["wood stud of SPF", *3 * ["our brick (masonry)"]]
    least = min(wall.rating_kg or 0.0 for wall in walls if wall.claimed)
    assert least == walls[1].rating_kg < (walls[0].rating_kg or 0.0)
    assert label_rating(on_brick).kg == pytest.approx(least)
    label = label_of(Head("job", "A", "0" * 64, None, "lamp bracket", 1, "", ""), on_brick, "mm")
    assert label.rating == rating_down(least, "mm")
    assert "lag screw 5/16" in label.wall and "our brick, sleeve anchor 8" in label.wall
    said = plain_part(on_brick)["mount"]
    assert said["lowest_kg"] == pytest.approx(least, abs=1e-3)
    assert [each["claimed"] for each in said["walls"]] == [True] * 4 + [False] * 3


def test_walls_the_job_does_not_name_are_unproven_and_spoil_nothing(plain: PartReview) -> None:
    """Masonry, steel studs and an unknown wall want a capacity with its source; wood wants its screw and kind of wood."""
    others = {wall.backing: wall for wall in plain.walls[1:]}
    assert set(others) == {"wood board", "masonry", "steel stud", "a wall nobody knows"}
    assert all(wall.rating_kg is None and wall.why and not wall.claimed for wall in others.values())
    assert plain.verdict is Verdict.ENOUGH
    fixed = fixed_of(plain)
    assert fixed is not None
    printed = {wall.backing: wall for wall in walls_of(plain, fixed, "mm")}
    assert printed["wood stud"].rating and not printed["masonry"].rating and not printed["steel stud"].rating


def test_a_part_that_claims_a_wall_without_a_capacity_is_unproven_as_a_whole() -> None:
    for to in ("masonry", "steel stud", "unknown"):
        found = rated(BRACKET + f'\n    [[part.mount.wall]]\n    to = "{to}"\n    fastener = "plug and screw"\n')
        assert found.verdict is Verdict.UNPROVEN
        assert found.walls[0].rating_kg is not None and found.walls[1].rating_kg is None
        finding = next(f for f in found.findings if f.code == "wall-unknown")
        assert finding.severity is Severity.UNPROVEN and "capacity" in finding.remedy
        assert label_rating(found).kg is None
        given = rated(BRACKET + brick(3.0, to))
        assert given.verdict is Verdict.ENOUGH and given.walls[1].rating_kg is not None


def test_a_wall_that_holds_less_than_is_asked_fails_the_part() -> None:
    found = rated(BRACKET + brick(0.02))
    assert found.walls[0].share is not None and found.walls[0].share < 0.85
    assert found.verdict is Verdict.NOT_ENOUGH and found.weakest.startswith("on our brick")
    less = next(f for f in found.findings if f.code == "wall-carries-less")
    assert less.value == found.walls[1].share and "of the 2 kg" in less.say


def test_a_board_gives_its_screw_no_more_wood_than_it_is_thick() -> None:
    """A 70 mm screw in 18 mm of plywood: less thread than 4 diameters (NDS 12.2), so no published value."""
    board = '\n    [[part.mount.wall]]\n    to = "wood board"\n    wood = "plywood"\n'
    deep, thin = rated(BRACKET + board), rated(BRACKET + board + '    board = "18 mm"\n')
    assert deep.walls[1].rating_kg is not None and thin.walls[1].rating_kg is None
    assert "4 diameters" in thin.walls[1].why


def test_what_is_wrong_with_a_wall_is_told_at_its_line() -> None:
    for wrong, said in (
        ('to = "brick wall"', "brick wall"),
        ('to = "masonry"\n    holes = "back"', "holes"),
        ('to = "wood stud"\n    wood = "balsa"', "balsa"),
        ('to = "masonry"\n    capacity = { tension = "1 kN" }', "from"),
    ):
        with pytest.raises(JobProblems, match=re.escape(said)):
            read_job_text(BRACKET + "\n    [[part.mount.wall]]\n    " + wrong + "\n")
    too_thick = "\n    [[part.mount.wall]]\n" + '    to = "steel"\n    fastener = "M12"\n'
    with pytest.raises(JobProblems, match=r"the fastener is 12 mm and the widest hole it might take in 'back' is 9"):
        rated(BRACKET + too_thick)


def test_holes_on_one_stud_spacing_are_told_the_slot_that_serves_its_twin() -> None:
    """Story of the luthier: 6.6 × 13.0 finished, 13.4 cut, serves 400 and 406.4 mm."""
    said = two_spacings([(10.0, 6.6), (410.0, 6.6)], 6.0, 6.6, "bar", 0.12, 0.13)
    assert said is not None and said.code == "two-stud-spacings"
    assert "6.6 × 13.0 mm, cut 13.4 mm" in said.say and "406.4" in said.say
    one_slot = two_spacings([(10.0, 13.4), (410.0, 6.6)], 6.0, 6.6, "bar")  # it reaches 4 mm either way, not 6.4
    assert one_slot is not None
    assert two_spacings([(10.0, 13.4), (413.2, 13.4)], 6.0, 6.6, "bar") is None
    assert two_spacings([(10.0, 6.6), (310.0, 6.6)], 6.0, 6.6, "bar") is None


def test_a_bar_on_studs_nobody_measured_is_told_its_chance_at_every_usual_spacing() -> None:
    """620 mm long, 600 between the outer places: 50, 48, 0 and 0 of a hundred walls give two studs (closed form)."""
    wide = BRACKET.replace('["80 mm", "120 mm"]', '["620 mm", "120 mm"]').replace(
        '["40 mm", "0 mm"]', '["400 mm", "0 mm"]'
    )
    few = next(f for f in rated(wide).findings if f.code == "one-stud-only")
    assert "50 % every 400 mm, 48 % every 406.4 mm, 0 % every 600 mm, 0 % every 609.6 mm" in few.say
    known = wide.replace('wood = "SPF"', 'wood = "SPF"\n  stud_spacing = "406.4 mm"')
    few = next(f for f in rated(known).findings if f.code == "one-stud-only")
    assert "48 % of walls" in few.say and "813" in few.remedy
    assert any(f.code == "two-stud-spacings" for f in rated(wide).findings)
