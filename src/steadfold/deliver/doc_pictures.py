"""Writes the pictures of the documents, and the page on ready-made shapes: `python -m steadfold.deliver.doc_pictures`.

The same code gives the same bytes.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

from steadfold.deliver.hero import hero_svg
from steadfold.deliver.shape_change import drawn_values, show_both, show_value
from steadfold.deliver.shape_picture import shape_svg
from steadfold.deliver.writing import write_all
from steadfold.sheet.shapes import SHAPES, Dimension, ReadyShape, Sheet

HERO_PART = "oar rack"

HERO_KEYS = (
    "material",
    "thickness",
    "finish",
    "shape",
    "width",
    "height",
    "tines",
    "tine_width",
    "tine_length",
    "tine_inset",
)

CARRIED: Mapping[str, tuple[str, str, int]] = {
    "tine rack": ("sculling oar", '["1.6 kg", "2.3 kg"]', 4),
    "hole bar": ("combination spanner", '["0.1 kg", "0.9 kg"]', 8),
    "hook strip": ("wet life jacket", '["0.8 kg", "2.5 kg"]', 6),
    "saddle": ("epoxy gun", '"4.5 lb"', 1),
    "tray": ("rowlocks and pins", '"6 kg"', 1),
    "shelf": ("varnish tin", '"1.2 kg"', 6),
    "angle bracket": ("end of the gangplank", '"9 kg"', 1),
    "square pocket": ("box of flares", '"2 kg"', 1),
    "channel": ("coiled mooring line", '["1.5 kg", "3 kg"]', 2),
    "hat": ("spare mast", '"12 kg"', 1),
}
"""What the boat shed keeps on each shape: the item, its mass as a job says it, and how many."""


def job_snippet(shape: ReadyShape) -> str:
    """A whole small job with one part of this shape."""
    item, mass, count = CARRIED[shape.name]
    values = drawn_values(shape)
    tree = shape.build(values, Sheet(3.0, 3.0))
    holes = next(panel.name for panel in tree.panels if any("drain" not in cutout.name for cutout in panel.cutouts))
    if shape.name == "hole bar":
        holes = "back"
    given = [d for d in shape.dimensions if d.default is None] or list(shape.dimensions[:1])
    more = [d for d in shape.dimensions if d not in given][:2]
    keys = "".join(f"{d.key} = {_toml(d, values[d.key])}\n" for d in (*given, *more))
    counted = f"  count = {count}\n" if count > 1 else ""
    return (
        f'steadfold = 1\nname = "Boat shed, {shape.name}"\n\n[[part]]\nname = "{shape.name}"\nmaterial = "S235"\n'
        f'thickness = "3 mm"\nshape = "{shape.name}"\n{keys}\n'
        f'  [[part.carries]]\n  item = "{item}"\n  mass = {mass}\n{counted}  on = "{tree.places[0][0]}"\n\n'
        f'  [part.mount]\n  to = "wood stud"\n  fastener = "lag screw 1/4"\n  holes = "{holes}"\n'
    )


def _toml(dimension: Dimension, value: object) -> str:
    if dimension.kind == "count":
        return f"{value}"
    if dimension.kind == "flag":
        return "true" if value else "false"
    if dimension.kind == "angle":
        return f'"{show_value(dimension, value).rstrip("°")} deg"'  # type: ignore[arg-type]
    return f'"{show_value(dimension, value)}"'  # type: ignore[arg-type]


def shapes_page() -> str:
    """The page on ready-made shapes, in Markdown."""
    links = "\n".join(f"- [{name}](#{stem_of(name)}): {SHAPES[name].say}" for name in SHAPES)
    head = (
        "# Ready-made shapes\n\n"
        "Shapes that a workshop orders again and again, each with named dimensions. All sizes are outside sizes, as a\n"
        "calliper reads them, unless a key says *inside*; write them in mm or inch. Every shape is a tree of panels\n"
        "like any other, so cutouts can be added to its panels. Limits say what a shape makes sense for; whether a\n"
        "shop can make it is checked for each job.\n\n"
        "In the drawings the shape stands pale as it is by default, in 3 mm sheet; the dark lines are what becomes of\n"
        "it when that one dimension is changed as printed.\n\n"
        f"{links}\n"
    )
    return head + "".join(_section(shape) for shape in SHAPES.values())


def stem_of(name: str) -> str:
    """A shape's name as a file name and as an anchor of the page."""
    return name.replace(" ", "-")


def _section(shape: ReadyShape) -> str:
    rows = "".join(f"| `{d.key}` | {_default(d)} | {_limits(d)} | {d.say} |\n" for d in shape.dimensions)
    values = drawn_values(shape)
    places = ", ".join(f"`{name}`" for name, _ in shape.build(values, Sheet(3.0, 3.0)).places)
    return (
        f"\n## {shape.name}\n\n{shape.say[0].upper()}{shape.say[1:]}.\n\n"
        f"| key | default | limits | meaning |\n| --- | --- | --- | --- |\n{rows}\n"
        f"What it carries may stand `on` {places}, or on any of its panels.\n\n"
        f"![The {shape.name} and what each of its dimensions changes](shapes/{stem_of(shape.name)}.svg)\n\n"
        f"```toml\n{job_snippet(shape)}```\n"
    )


def _default(dimension: Dimension) -> str:
    return "must be given" if dimension.default is None else show_both(dimension, dimension.default)


def _limits(dimension: Dimension) -> str:
    if dimension.choices:
        return ", ".join(dimension.choices)
    low, high = (None if v is None else show_value(dimension, v) for v in (dimension.low, dimension.high))
    if low is None or high is None:
        return f"from {low}" if low else (f"to {high}" if high else "")
    return f"{low.removesuffix(' mm')} to {high}"


def hero(job_file: Path) -> str:
    """The README's picture, from the job that `make demo` runs."""
    from steadfold.catalogue import material
    from steadfold.job import read_job
    from steadfold.review.holding import held
    from steadfold.review.shaping import shaped
    from steadfold.review.shop import shop_of
    from steadfold.sheet.flat import flat_pattern

    job = read_job(job_file)
    ordered = job.part(HERO_PART)
    metal = material(ordered.material)
    part = shaped(job, ordered, metal, shop_of(job)).part
    assert part is not None
    strength = held(job, ordered, part, metal).strength
    text = job_file.read_text(encoding="utf-8")
    table = text[text.index(f'name = "{HERO_PART}"') :].split("[[", 1)[0]
    lines = [line.split("#")[0].strip() for line in table.splitlines()]
    kept = [line for line in lines if line.split(" =")[0] in HERO_KEYS]
    lines = ["[[part]]", f'name = "{HERO_PART}"', *kept]
    return hero_svg(part, flat_pattern(part), lines, None if strength is None else strength.picture)


def main() -> None:
    """Write docs/shapes.md, docs/shapes/*.svg and docs/pictures/hero.svg below a folder, by default this one."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("root", nargs="?", type=Path, default=Path())
    root: Path = parser.parse_args().root
    docs = root / "docs"
    write_all(docs / "shapes", {f"{stem_of(name)}.svg": shape_svg(SHAPES[name]).encode() for name in SHAPES})
    write_all(docs, {"shapes.md": shapes_page().encode()})
    write_all(docs / "pictures", {"hero.svg": hero(root / "examples" / "boat-shed.toml").encode()})


if __name__ == "__main__":
    main()
