"""Templates at full size: measured on the rendered page, as a person measures the print."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfold.deliver.drawing.tiles import BOTTOM_MM, INSET_MM, LEFT_MM, OVERLAP_MM, TOP_MM, tiled
from steadfold.deliver.sheets.fixing import fixed_of
from steadfold.deliver.sheets.head import PAPER_MM, Style, part_head
from steadfold.deliver.sheets.templates import flat_template, mounting_template, stud_words
from tests.files.order_jobs import pages, part_of, reviewed

DPI = 600
PER_MM = DPI / 25.4


def rendered(data: bytes, page: int = 0, dpi: int = DPI) -> np.ndarray:
    """A page as grey values, 0 black."""
    bitmap = pypdfium2.PdfDocument(data)[page].render(scale=dpi / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy()).squeeze()


def template(paper: str = "A4", units: str = "mm") -> bytes:
    found = reviewed()
    part = part_of(found)
    made = flat_template(part_head(found.job, part), part, Style(paper, units=units))  # type: ignore[arg-type]
    assert made is not None
    return made


def dark_span(values: np.ndarray) -> tuple[int, int]:
    """First and one past the last dark pixel."""
    dark = np.flatnonzero(values < 128)
    return int(dark[0]), int(dark[-1]) + 1


@pytest.mark.parametrize(
    ("paper", "units", "long_mm"), [("A4", "mm", 100.0), ("letter", "mm", 100.0), ("letter", "in", 4 * 25.4)]
)
def test_both_bars_measure_100_mm_or_4_inches_at_print_size(paper: str, units: str, long_mm: float) -> None:
    data = template(paper, units)
    image = rendered(data)
    said = "4 in" if units == "in" else "100 mm"
    assert f"Both bars must measure {said}." in pages(data)[0]
    height = image.shape[0]
    # The bars lie 8 mm below and 8 mm left of the window; what is cut out holds nothing else.
    row = height - round((BOTTOM_MM - 8.0) * PER_MM)
    start, end = round((LEFT_MM - 4) * PER_MM), round((LEFT_MM + 104) * PER_MM)
    low, high = dark_span(image[row - 2 : row + 3, start:end].min(axis=0))
    assert (high - low) / PER_MM == pytest.approx(long_mm, abs=0.1)
    column = round((LEFT_MM - 8.0) * PER_MM)
    bottom = height - round(BOTTOM_MM * PER_MM)
    upright = image[bottom - round(104 * PER_MM) : bottom + round(4 * PER_MM), column - 2 : column + 3].min(axis=1)
    low, high = dark_span(upright)
    assert (high - low) / PER_MM == pytest.approx(long_mm, abs=0.1)


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_pages_have_the_size_of_the_paper(paper: str) -> None:
    document = pypdfium2.PdfDocument(template(paper))
    for page in document:
        size = sorted(length / 72 * 25.4 for length in page.get_size())
        assert size == pytest.approx(sorted(PAPER_MM[paper]), abs=0.01)


def test_sheets_laid_on_their_overlaps_are_the_flat() -> None:
    """Every sheet's window is put where its marks say; the flat's edges then lie its own width and height apart."""
    found = reviewed()
    part = part_of(found)
    width, height = part.flat.size_mm  # type: ignore[union-attr]
    tiling = tiled(width, height, PAPER_MM["A4"])
    assert len(tiling.tiles) > 1
    data = template()
    dpi = 300
    per_mm = dpi / 25.4
    whole = np.full((math.ceil((tiling.height_mm + 60) * per_mm), math.ceil((tiling.width_mm + 400) * per_mm)), 255)
    window_width, window_height = tiling.window_mm
    for number, tile in enumerate(tiling.tiles):
        image = rendered(data, number, dpi)
        # A millimetre off each side leaves the window's own border out.
        left, top = round((LEFT_MM + 1) * per_mm), round((TOP_MM + 1) * per_mm)
        cut = image[top : top + round((window_height - 2) * per_mm), left : left + round((window_width - 2) * per_mm)]
        x = round((tile.x_mm + 1) * per_mm)
        y = round((tiling.height_mm - tile.y_mm - window_height + 1 + 30) * per_mm)
        y0, x0 = max(y, 0), max(x, 0)
        part_of_it = cut[y0 - y :, x0 - x :]
        place = whole[y0 : y0 + part_of_it.shape[0], x0 : x0 + part_of_it.shape[1]]
        np.minimum(place, part_of_it[: place.shape[0], : place.shape[1]], out=place)
    # Across the shelf at a third of its height there is nothing but its two edges; glue marks are further in.
    row = round((30 + tiling.height_mm - INSET_MM - 0.32 * height) * per_mm)
    low, high = dark_span(whole[row, : round((INSET_MM + width + 3) * per_mm)])
    assert (high - low) / per_mm == pytest.approx(width + 0.5, abs=0.25)
    column = round((INSET_MM + 0.11 * width) * per_mm)
    low, high = dark_span(whole[round(30 * per_mm) : round((30 + tiling.height_mm) * per_mm), column])
    assert (high - low) / per_mm == pytest.approx(height + 0.5, abs=0.25)


@given(st.floats(5, 2000), st.floats(5, 1500), st.sampled_from(sorted(PAPER_MM)))
def test_tiles_cover_everything_and_overlap_by_ten_millimetres(width: float, height: float, paper: str) -> None:
    tiling = tiled(width, height, PAPER_MM[paper])
    window_width, window_height = tiling.window_mm
    for axis, window, whole in (("x_mm", window_width, tiling.width_mm), ("y_mm", window_height, tiling.height_mm)):
        starts = sorted({getattr(tile, axis) for tile in tiling.tiles})
        assert starts[0] <= 1e-9 and starts[-1] + window >= whole - 1e-9
        for a, b in pairwise(starts):
            assert a + window - b == pytest.approx(OVERLAP_MM)
    assert len(tiling.tiles) == tiling.columns * tiling.rows
    assert len({tile.name for tile in tiling.tiles}) == len(tiling.tiles) or tiling.rows > 26


@given(st.floats(5, 1200), st.floats(5, 800))
def test_no_other_way_of_laying_takes_fewer_sheets(width: float, height: float) -> None:
    """Counted the slow way: sheets are added until the length is covered, upright and across."""

    def count(length: float, window: float) -> int:
        sheets, covered = 1, window
        while covered < length - 1e-9:
            sheets, covered = sheets + 1, covered + window - OVERLAP_MM
        return sheets

    paper = PAPER_MM["A4"]
    ways = []
    for wide, high in (paper, paper[::-1]):
        ways.append(
            count(width + 2 * INSET_MM, wide - LEFT_MM - 10.0) * count(height + 2 * INSET_MM, high - TOP_MM - BOTTOM_MM)
        )
    assert len(tiled(width, height, paper).tiles) == min(ways)


def test_hole_centres_on_the_wall_are_as_far_apart_as_on_the_part() -> None:
    """The holes are 240 mm apart (30 and 270 in the job): their outlines are found on the rendered sheets."""
    found = reviewed()
    part = part_of(found)
    fixed = fixed_of(part)
    assert fixed is not None
    from steadfold.deliver.sheets.templates import mounting_marks

    _, width, height = mounting_marks(part, fixed, "mm")
    tiling = tiled(width, height, PAPER_MM["A4"])
    data = mounting_template(part_head(found.job, part), part, fixed, Style())
    assert data is not None
    xs = []
    for number, tile in enumerate(tiling.tiles):
        image = rendered(data, number, 300)
        per_mm = 300 / 25.4
        window_width, window_height = tiling.window_mm
        for x_part in (30.0, 270.0):
            # Where the hole must be: 24 mm of room and the inset left of the panel.
            x = INSET_MM + 24.0 + x_part - tile.x_mm
            y = INSET_MM + 24.0 + 50.0 - tile.y_mm
            if not (8 < x < window_width - 8 and 8 < y < window_height - 8):
                continue
            px = round((LEFT_MM + x) * per_mm)
            py = image.shape[0] - round((BOTTOM_MM + y) * per_mm)
            # Between the centre's arms and the level line, along a diagonal, the first dark pixel is the hole's edge.
            reach = []
            for sx, sy in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
                steps = np.arange(round(1.2 * per_mm), round(6 * per_mm))
                ray = image[py + sy * steps, px + sx * steps]
                reach.append(math.sqrt(2) * steps[np.flatnonzero(ray < 128)[0]] / per_mm)
            assert np.mean(reach) == pytest.approx(3.5, abs=0.3)
            xs.append(x_part)
    assert sorted(set(xs)) == [30.0, 270.0]


def test_holes_that_meet_no_stud_are_said_so() -> None:
    """240 mm is no spacing of studs (400, 406, 600, 610)."""
    fixed = fixed_of(part_of(reviewed()))
    assert fixed is not None
    assert "do not lie under both" in stud_words(fixed, "mm")


def test_a_flat_of_too_many_sheets_is_not_printed() -> None:
    import tests.files.order_jobs as jobs

    found = reviewed(jobs.SHED.replace('size = ["120 mm", "60 mm"]', 'size = ["2400 mm", "1200 mm"]'))
    part = part_of(found, "drip plate")
    assert flat_template(part_head(found.job, part), part, Style()) is None
