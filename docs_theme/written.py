"""The parts of the docs that are written from the code: the list of finding codes, and the picture of the house.

`make docs` writes them anew; a test holds the committed ones to the code.
"""

from __future__ import annotations

import ast
import re
import tomllib
from html import escape
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "steadfold"
FINDINGS = ROOT / "docs" / "questions" / "reading-a-finding.md"
HOUSE = ROOT / "docs" / "pictures" / "house.svg"
START, END = "<!-- codes, written by make docs -->", "<!-- end of codes -->"

ROOMS = {
    "page": "what the browser shows",
    "cli": "the command line",
    "deliver": "DXF, STEP, SVG, PDF, the order folder",
    "review": "the only place that knows the order of the steps",
    "job": "the job file, read and written back",
    "mount": "a part on its wall",
    "stand": "a machine on its frame",
    "money": "cost and price",
    "joints": "bolts, screws, nuts",
    "fabricate": "cutting, bending, coating, fit",
    "mechanics": "elements, contact, loads; knows no sheet metal",
    "sheet": "panels and bends: flat, solid, mesh",
    "catalogue": "materials, gauges, fasteners, with sources",
    "quantities": "text with units",
    "findings": "one thing to know, and the verdict",
}


def registers() -> dict[str, dict[str, str]]:
    """All finding codes with their sentences, by the file that holds them: every module-level dict named *CODES."""
    found: dict[str, dict[str, str]] = {}
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            target = node.target if isinstance(node, ast.AnnAssign) else None
            if isinstance(target, ast.Name) and target.id.endswith("CODES") and isinstance(node.value, ast.Dict):
                name = path.relative_to(SOURCE).as_posix()
                found.setdefault(name, {}).update(ast.literal_eval(node.value))
    return found


def codes_text() -> str:
    """Tables of all codes, a table a register."""
    text = ""
    for name, codes in registers().items():
        text += f"\n### From `{name}`\n\n| code | what it means |\n| --- | --- |\n"
        text += "".join(f"| `{code}` | {meaning} |\n" for code, meaning in sorted(codes.items()))
    return text


def findings_page(now: str) -> str:
    """The page with its list of codes as the code has them."""
    before, rest = now.split(START)
    return before + START + "\n" + codes_text() + "\n" + END + rest.split(END)[1]


def floors() -> list[list[str]]:
    """Rooms by floor from the top, as the import contract has them."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (contract,) = project["tool"]["importlinter"]["contracts"]
    return [re.findall(r"[a-z]+", layer) for layer in contract["layers"]]


def house_svg() -> str:
    """The house in one picture: a floor a layer of the contract, a room a package; a room looks only downwards."""
    all_floors = floors()
    wide, high, left, gap = 900, 62, 44, 8
    tall = len(all_floors) * (high + gap) + 62
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {tall}" role="img" '
        'font-family="system-ui, DejaVu Sans, sans-serif">',
        "<title>The rooms of the house by floor</title>",
        f'<rect width="{wide}" height="{tall}" fill="#fffef9"/>',
        f'<path d="M20 40 L{wide / 2} 6 L{wide - 20} 40" fill="none" stroke="#22303a" stroke-width="3"/>',
    ]
    for level, rooms in enumerate(all_floors):
        y = 46 + level * (high + gap)
        number = len(all_floors) - 1 - level
        parts.append(f'<text x="18" y="{y + high / 2 + 5:.0f}" font-size="15" fill="#5d6b76">{number}</text>')
        room_wide = (wide - left - 16 - gap * (len(rooms) - 1)) / len(rooms)
        for place, room in enumerate(rooms):
            x = left + place * (room_wide + gap)
            middle = x + room_wide / 2
            parts.append(
                f'<rect x="{x:.1f}" y="{y}" width="{room_wide:.1f}" height="{high}" rx="6" fill="#f2f0e7" stroke="#22303a"/>'
                f'<text x="{middle:.1f}" y="{y + 26}" font-size="17" font-weight="700" text-anchor="middle" '
                f'fill="#1f2d38">{room}</text>'
                f'<text x="{middle:.1f}" y="{y + 47}" font-size="12.5" text-anchor="middle" fill="#1f2d38">'
                f"{escape(ROOMS[room])}</text>"
            )
    return "\n".join([*parts, "</svg>", ""])


def main() -> None:
    """Write both."""
    FINDINGS.write_text(findings_page(FINDINGS.read_text(encoding="utf-8")), encoding="utf-8")
    HOUSE.write_text(house_svg(), encoding="utf-8")


if __name__ == "__main__":
    main()
