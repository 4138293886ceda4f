"""The worked stories, and docs/stories.md written from the rows that tests put beside them (`make stories`)."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.comparisons import PAGE

SHED = "story of the rigger tines, worked by hand"
BAR = "story of the slot bar, worked by hand"
SHELF = "story of the shelf on brackets, worked by hand"
STAND = "story of the machine on a strut stand, worked by hand"
TOLD = PAGE.with_name("stories.md")


@dataclass(frozen=True)
class Story:
    """One story: its title, the source its rows name, the example, what was asked and what came of it."""

    title: str
    source: str
    example: str
    verdicts: tuple[tuple[str, str], ...]
    asked: str
    parts: str


STORIES = (
    Story(
        "The rigger tines", SHED, "rigger-tines",
        (("flat tines 3 mm", "not enough"), ("flat tines 5 mm", "not enough"), ("flat tines 1.5 mm", "not enough"),
         ("tine on edge", "not enough"), ("channel tines", "stop"), ("channel tine, tied", "enough")),
        "Riggers hang in pairs on flat tines of 3 mm sheet, ten kilograms a tine, 125 mm out. They took a set on the first day. "
        "Is thicker the cure? It is not: 5 mm is still not enough. On edge the same sheet carries it, and then yields to a knock "
        "from the side; lips along a tine help it everywhere but at its root, where their reliefs leave 15 of its "
        "28 mm and it is weaker than flat, and no order of bends folds them past each other. Legs that run on past the root and are welded "
        "to the back make it enough with the same sheet.",
        "The hand's lever ends at the root's tangent line; the model adds the tine's own weight and lets bend, back and bolts "
        "give, which the droop shows most. The bolts pull more than by the hand's rigid back, because a plate bends and pries; "
        "bricks of another library confirm that (see the table of comparisons).",
    ),
    Story(
        "The slot bar", BAR, "plier-bar",
        (("plier bar on two studs", "not enough"), ("plier bar on a rail", "enough")),
        "A bar with eighteen slots for pliers, coated, on two studs. Will the slots still take the tool after coating, do the "
        "slots lie far enough from the bends, will the bar find two studs?",
        "Flat, bends, press and fit are the same arithmetic and agree to the last printed digit. The stress does not: by hand the "
        "root is held evenly, and on a rail with a bolt behind every second slot it nearly is; on two studs the moment comes "
        "together beside the screws and is twice what the hand formula says.",
    ),
    Story(
        "The shelf under the notice board", SHELF, "notice-shelf",
        (("plain bracket", "not enough"), ("gusset bracket, screws 9 mm out", "tight"),
         ("gusset bracket, screws 14 mm out", "tight")),
        "66 kg on two brackets, and somebody leans on one. A plain L of 3 mm, or one with a gusset? And does it matter whether "
        "the screws sit 9 or 14 mm from the gusset?",
        "The plain L is statics, and agrees. For the screws the hand takes the flange as rigid on its toe, an upper bound, and "
        "shares the moment between both; the model's flange bends, the wood gives, and the lower screw does not pull at all. So "
        "ours pull less, and the bracket that fails by hand at 14 mm is not condemned by the model. Whoever wants the bound "
        "reads it in the hand's column.",
    ),
    Story(
        "The machine on a strut stand", STAND, "press-stand",
        (("planer outrigger as it was", "stop"), ("planer outrigger, second try", "enough")),
        "A heavy machine of unknown weight goes on a triangle of strut off the end of a bench. What does it weigh, why did the "
        "stand sag 6 mm, how many turns bring it level, and does the bench stay on its feet?",
        "Ours takes the section from its geometry and E as the cold-forming standard has it, the hand from a maker's table: "
        "1 to 2 % apart. "
        "The rows are for the story's one frame without its own weight; the example is the whole stand, with clearances, bench "
        "and reading errors. Its droop by bending is a twentieth of a millimetre: the 6 mm that were measured are slip.",
    ),
)  # fmt: skip


def rows_of(source: str) -> list[list[str]]:
    """Rows of the table of comparisons that name this source, as cells."""
    rows = []
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if len(cells) == 8 and cells[2] == source:
            rows.append(cells)
    return rows


def told() -> str:
    """docs/stories.md."""
    text = """# Stories with worked answers

Four jobs of the boat shed that were first worked by hand, each as a job in `examples/` that runs end to end: `steadfold rate`,
`flat`, `cost` and `order` take it, and the page shows the same numbers. The tables are written by the tests (`make stories`)
out of the [table of comparisons](comparisons.md); each row is asserted there with its tolerance.

The hand answers use g = 9.81 m/s², E = 200,000 MPa and, unless said, 0.6 of the yield as allowable bending.
"""
    for story in STORIES:
        verdicts = "\n".join(f"- {name}: *{verdict}*" for name, verdict in story.verdicts)
        text += f"\n## {story.title}\n\n{story.asked}\n\n    steadfold rate examples/{story.example}.toml\n\n{verdicts}\n\n"
        text += "| what | case | by hand | ours | gap | why they part |\n| --- | --- | ---: | ---: | ---: | --- |\n"
        for method, case, _, _, theirs, ours, gap, why in rows_of(story.source):
            text += f"| {method} | {case} | {theirs} | {ours} | {gap} | {why} |\n"
        text += f"\n**Why they part.** {story.parts}\n"
    return text


def main() -> None:
    """Write the page."""
    TOLD.write_text(told(), encoding="utf-8")
    print(f"written: {Path('docs') / TOLD.name}")


if __name__ == "__main__":
    main()
