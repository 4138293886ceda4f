"""One mistake at a time in a good job: told once, at its own line, with what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadfold.job import Job, JobProblems, Problem, read_job_text

WHOLE = (Path(__file__).parent / "whole_job.toml").read_text(encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "drawings").mkdir()
    (tmp_path / "rail_end.step").write_text("solid", encoding="utf-8")
    (tmp_path / "drawings" / "cover.dxf").write_text("lines", encoding="utf-8")
    return tmp_path


def read(text: str, folder: Path) -> Job:
    return read_job_text(text, folder / "job.toml")


def problems_of(text: str, folder: Path) -> tuple[Problem, ...]:
    with pytest.raises(JobProblems) as caught:
        read(text, folder)
    for problem in caught.value.problems:
        lines = text.split("\n")
        assert problem.line == 0 or lines[problem.line - 1] == problem.source_line
    return caught.value.problems


def test_the_whole_job_has_no_problem(folder: Path) -> None:
    job = read(WHOLE, folder)
    assert [part.name for part in job.parts] == ["oar rack", "paint shelf", "rail end", "cover"]


# What stood there, what stands there now, where the caret must be in the new text, and words of the sentence.
MISTAKES = [
    # keys
    ('finish = "powder coat"', 'finnish = "powder coat"', "finnish", 'did you mean "finish"?'),
    ("tines = 5", "tine = 5", "tine =", 'did you mean "tines"?'),
    ("[sale]", "[sales]", "sales", 'did you mean "sale"?'),
    ('profile = "typical"', 'profil = "typical"', "profil =", 'did you mean "profile"?'),
    ('  fastener = "lag', '  fastner = "lag', "fastner", 'did you mean "fastener"?'),
    ('  sag_limit = "2 mm"', '  saglimit = "2 mm"', "saglimit", 'did you mean "sag_limit"?'),
    ('    diameter = "9 mm"', '    diamter = "9 mm"', "diamter", 'did you mean "diameter"?'),
    ('step = ["180 mm", "0 mm"]', 'stepp = ["180 mm", "0 mm"]', "stepp", 'did you mean "step"?'),
    ('edge = 0\n  bend = "90 deg"', 'edge = 0\n  bends = "90 deg"', "bends", 'did you mean "bend"?'),
    ('units = "mm"\nbody', 'unit = "mm"\nbody', "unit =", 'did you mean "units"?'),
    ('cut = ["OUTLINE", "HOLES"]', 'cuts = ["OUTLINE", "HOLES"]', "cuts", 'did you mean "cut"?'),
    # units
    ('width = "300 mm"', "width = 300", "300", "300 has no unit"),
    ('width = "300 mm"', 'width = "300"', '"300"', "has no unit"),
    ('size = ["400 mm", "6 in"]', 'size = ["400 mm", 6]', "6]", "6 has no unit"),
    ('diameter = "9 mm"', 'diameter = "9 kg"', '"9 kg"', "is a mass, not a length"),
    ('mass = ["1.6 kg", "2.3 kg"]', 'mass = "1.6 N"', '"1.6 N"', "is a force, not a mass"),
    ('tip_angle = "85 deg"', 'tip_angle = "85 mm"', '"85 mm"', "is a length, not an angle"),
    ('lean = "250 N"', 'lean = "25 kg"', '"25 kg"', "is a mass, not a force"),
    ('yield = "250 MPa"', 'yield = "250 N"', '"250 N"', "is a force, not a stress"),
    ('temperature = "30 C"', 'temperature = "30 mm"', '"30 mm"', "is a length, not a temperature"),
    ('width = "300 mm"', 'width = "300 hands"', '"300 hands"', "hands"),
    ('reach = "90 mm"', 'reach = ["80 mm", "90 mm"]', '["80 mm"', "this is a list"),
    ('diameter = "9 mm"', 'diameter = "9**9**9**9 mm"', '"9**9', "is not a length"),
    # sizes
    ('width = "300 mm"', 'width = "0 mm"', '"0 mm"', "must be more than 0 mm|less than"),
    ('width = "300 mm"', 'width = "-300 mm"', '"-300 mm"', "more than 0 mm|less than"),
    ('width = "300 mm"', 'width = "300 m"', '"300 m"', "the most here"),
    ('diameter = "9 mm"', 'diameter = "0 mm"', '"0 mm"', "must be more than 0 mm"),
    ('diameter = "9 mm"', 'diameter = "nan mm"', '"nan mm"', "is not a length"),
    ('diameter = "9 mm"', 'diameter = "1e400 mm"', '"1e400 mm"', "not a finite number"),
    ("k_factor = 0.42", "k_factor = nan", "nan", "K-factor"),
    ("k_factor = 0.42", "k_factor = 0.65", "0.65", "the k of DIN 6935 counts half the thickness"),
    ("k_factor = 0.42", "k_factor = 0", "0\n", "K-factor"),
    ('thickness = "5/64 in"', 'thickness = "0 in"', '"0 in"', "more than 0 mm"),
    ('thickness = "5/64 in"', 'thickness = "5 m"', '"5 m"', "is not sheet"),
    ('bend = "-135 deg"', 'bend = "-190 deg"', '"-190 deg"', "less than -180 deg"),
    ('bend = "-135 deg"', 'bend = "0 deg"', '"0 deg"', "at least 1 deg"),
    ("quantity = 6", "quantity = 0", "0\n", "from 1 to"),
    ("quantity = 6", "quantity = 2.5", "2.5", "whole number"),
    ("quantity = 6", "quantity = true", "true", "whole number"),
    ("count = 3,", "count = 2001,", "2001", "from 1 to 2000"),
    ("count = 2,", "count = 700,", "700", "at most 2000"),
    ('mass = ["1.6 kg", "2.3 kg"]', 'mass = ["2.6 kg", "2.3 kg"]', "[", "the least comes first"),
    ('mass = ["1.6 kg", "2.3 kg"]', 'mass = "0 kg"', '"0 kg"', "more than 0 kg"),
    ('mass = ["1.6 kg", "2.3 kg"]', 'mass = "-1 kg"', '"-1 kg"', "more than 0 kg"),
    ("snatch_factor = 1.5", "snatch_factor = 0.5", "0.5", "from 1 to 100"),
    ("snatch_factor = 1.5", 'snatch_factor = "twice"', '"twice"', "plain number"),
    # words
    ('material = "DC01"', 'material = "DC10"', '"DC10"', "DC01"),
    ('material = "DC01"', 'material = "mild steel"', '"mild steel"', "it could be any of"),
    ('finish = "powder coat"', 'finish = "powdercoat"', '"powdercoat"', 'did you mean "powder coat"?'),
    ('shape = "tine rack"', 'shape = "tine rak"', '"tine rak"', 'did you mean "tine rack"?'),
    ('to = "wood stud"', 'to = "wood studs"', '"wood studs"', 'did you mean "wood stud"?'),
    ('hem = "open"', 'hem = "opened"', '"opened"', 'did you mean "open"?'),
    ('profile = "typical"', 'profile = "tipical"', '"tipical"', 'did you mean "typical"?'),
    ('wood = "SPF"', 'wood = "balsa"', '"balsa"', "balsa"),
    ('shape = "slot"', 'shape = "slit"', '"slit"', 'did you mean "slot"?'),
    # gauges
    ('thickness = "11 ga"', "thickness = 11", "11\n", '"11 ga" for a gauge'),
    ('thickness = "11 ga"', 'thickness = "99 ga"', '"99 ga"', "it runs from"),
    (
        'material = "ASA"\nthickness = "4 mm"',
        'material = "ASA"\nthickness = "4 ga"',
        '"4 ga"',
        "give its thickness in mm",
    ),
    # panels
    ('name = "lip"', 'name = "shelf"', '"shelf"', 'two panels are named "shelf"'),
    ('from = "back"', 'from = "bakc"', '"bakc"', 'did you mean "back"?'),
    ('from = "back"', 'from = "lip"', '"lip"', "comes later"),
    ('from = "back"', 'from = "shelf"', '"shelf"', "cannot hang on itself"),
    ('edge = "far"', 'edge = "front"', '"front"', "has no edge 'front'"),
    ('edge = "far"', 'edge = "near"', '"near"', "itself hangs by this edge"),
    ("edge = 0", "edge = 7", "7\n", "has edges 0 to 4"),
    ("edge = 0", "edge = 3", "3\n", "is an arc"),
    ("edge = 0", "edge = 1.5", "1.5", "is named"),
    ('size = ["380 mm", "20 mm"]', 'size = ["380 mm"]', '["380', "two lengths"),
    ('gap = "3 mm"\n  side', "side", "", '"gap" is missing'),
    (
        'hem = "teardrop"\n  size = ["100 mm", "20 mm"]',
        'hem = "teardrop"\n  size = ["100 mm", "5 mm"]',
        '["100',
        "needs at least",
    ),
    ('hem = "open"', 'hem = "closed"', '"3 mm"', 'has no "gap"'),
    (
        '["400 mm", "0 mm"], ["400 mm", "90 mm"]',
        '["400 mm", "0 mm"], ["400 mm", "0 mm"]',
        '["400 mm", "0 mm"],\n',
        "lies on the one before",
    ),
    ("bulge = 0.1", 'bulge = 0.1, through = ["300 mm", "120 mm"]', '{ to = ["200', "one of the two"),
    (
        '["30 mm", "0 mm"], ["0 mm", "30 mm"]]',
        '["30 mm", "0 mm"], ["60 mm", "0 mm"]]',
        '[["0 mm", "0 mm"], ["30',
        "no area",
    ),
    # what it carries and how it is held
    ('on = "tines"', 'on = "tine"', '"tine"', 'did you mean "tines"?'),
    ('at = ["200 mm", "80 mm"]', 'at = ["200 mm", "180 mm"]', '["200 mm", "180', "lies off panel"),
    ('holes = "back"', 'holes = "tine 1"', '"tine 1"', "has no hole"),
    ('holes = "back"', 'holes = "bakc"', '"bakc"', 'did you mean "back"?'),
    ('on = "back"\n', 'on = "bakc"\n', '"bakc"', 'did you mean "back"?'),
    (', from = "pull test of three, the lowest"', "", "{ tension", '"from" is missing'),
    ("snatch_factor = 1.5", 'snatch_factor = 1.5\n  drop_height = "20 mm"', '"20 mm"', "not both"),
    ('pulls = "across layers"', 'pulls = "across"', '"across"', "across layers"),
    # other people's files
    ('file = "rail_end.step"', 'file = "../rail_end.step"', '"../rail', "leaves the folder"),
    ('file = "rail_end.step"', 'file = "drawings/../../x.step"', '"drawings/..', "leaves the folder"),
    ('file = "rail_end.step"', 'file = "/rail_end.step"', '"/rail', "is not relative"),
    ('file = "rail_end.step"', 'file = "C:\\\\rail_end.step"', '"C:', "is not relative"),
    ('file = "rail_end.step"', 'file = "..\\\\rail_end.step"', '"..', "leaves the folder"),
    ('file = "rail_end.step"', 'file = "rail_end.stl"', '"rail_end.stl', "does not end in .step or .stp"),
    ('file = "rail_end.step"', 'file = "no_such.step"', '"no_such', "there is no file"),
    ('file = "rail_end.step"', 'file = "rail\\u0000end.step"', '"rail', "cannot be printed"),
    ('profile = "typical"', 'profile = "../shop.toml"', '"../shop', "leaves the folder"),
    ('bend = "FOLD"', 'bend = "HOLES"', '"HOLES" }', 'is named for "cut" already'),
    # the job
    ("steadfold = 1", "steadfold = 2", "2\n", "this steadfold reads format 1"),
    ('name = "rail end"', 'name = "Oar Rack"', '"Oar Rack"', "two parts are named"),
    ('[[stand]]\nname = "planer outrigger"', "[[stand]]", "[[stand]]", '"name" is missing'),
]


@pytest.mark.parametrize(("old", "new", "caret", "words"), MISTAKES, ids=[f"{m[1][:40]}" for m in MISTAKES])
def test_a_mistake_is_told_where_it_stands(old: str, new: str, caret: str, words: str, folder: Path) -> None:
    assert WHOLE.count(old) >= 1
    at = WHOLE.index(old)
    text = WHOLE[:at] + new + WHOLE[at + len(old) :]
    problems = problems_of(text, folder)
    told = [problem for problem in problems if any(word in problem.sentence for word in words.split("|"))]
    assert told, problems
    if caret:
        offsets = {sum(len(line) + 1 for line in text.split("\n")[: p.line - 1]) + p.column - 1 for p in told}
        expected = text.index(caret, text.rindex("\n", 0, at))
        assert expected in offsets, [p.render() for p in told]
    # One mistake, one problem: nothing follows from it that would send the reader elsewhere. A misspelt key is also
    # a missing one.
    assert len(problems) <= (2 if "did you mean" in words else 1), [p.render() for p in problems]


MISSING = [
    ("steadfold = 1\n", '"steadfold" is missing'),
    ('name = "oar rack"\n', '"name" is missing'),
    ('material = "DC01"\n', '"material" is missing'),
    ('thickness = "5/64 in"\n', '"thickness" is missing'),
    ('shape = "panels"\n', '"shape" is missing'),
    ('width = "300 mm"\n', '"width" is missing'),
    ('  from = "back"\n', '"from" is missing'),
    ('  edge = "far"\n', '"edge" is missing'),
    ('  bend = "-135 deg"\n', '"bend" is missing'),
    ('  size = ["380 mm", "20 mm"]\n', '"size" is missing'),
    ('    diameter = "9 mm"\n', '"diameter" is missing'),
    ('  item = "tin of paint"\n', '"item" is missing'),
    ('  to = "wood stud"\n', '"to" is missing'),
    ('file = "rail_end.step"\n', '"file" is missing'),
    ("  line = 2\n", '"line" is missing'),
]


@pytest.mark.parametrize(("line", "words"), MISSING, ids=[each[0].strip() for each in MISSING])
def test_a_missing_key_is_told_with_an_example(line: str, words: str, folder: Path) -> None:
    assert line in WHOLE
    problems = problems_of(WHOLE.replace(line, "", 1), folder)
    assert [p for p in problems if words in p.sentence and "; write " in p.sentence], problems


def test_all_mistakes_are_told_at_once_and_in_order(folder: Path) -> None:
    text = WHOLE
    for old, new in (("quantity = 6", "quantity = 0"), ('bend = "-135 deg"', "bend = -135"), ("body = 1", "body = -1")):
        text = text.replace(old, new)
    problems = problems_of(text, folder)
    assert [p.field for p in problems] == [
        'part "oar rack", quantity', 'part "paint shelf", panel "lip", bend', 'part "rail end", body',
    ]  # fmt: skip
    assert [p.line for p in problems] == sorted(p.line for p in problems)


def test_a_file_full_of_mistakes_is_counted_not_listed(folder: Path) -> None:
    text = "\n".join(f"odd_{number} = 1" for number in range(5000)) + "\n" + WHOLE
    problems = problems_of(text, folder)
    assert len(problems) == 101
    assert any("more problems" in problem.sentence for problem in problems)


BROKEN = [
    ('name = "Boat shed', "name = Boat shed", "not TOML"),
    ('revision = "B"', 'revision = "B', "quote is missing"),
    ("tines = 5", "tines 5", "a line holds a key"),
    ("tines = 5", "tines = 5 tine_width = 3", "one key to a line"),
    ("tines = 5", "tines = 5\ntines = 6", "keep one of the two"),
    ('at = ["150 mm", "30 mm"]', 'at = ["150 mm", "30 mm"', "not TOML"),
]


@pytest.mark.parametrize(("old", "new", "words"), BROKEN, ids=[each[1] for each in BROKEN])
def test_broken_toml_is_told_with_its_line(old: str, new: str, words: str, folder: Path) -> None:
    (problem,) = problems_of(WHOLE.replace(old, new, 1), folder)
    line = WHOLE[: WHOLE.index(old)].count("\n") + 1
    assert words in problem.sentence
    # A missing bracket shows only when the next key begins.
    assert line <= problem.line <= line + 1 + new.count("\n")


def test_line_ends_and_byte_order_mark_change_nothing(folder: Path) -> None:
    plain = read(WHOLE, folder)
    assert read("\ufeff" + WHOLE.replace("\n", "\r\n"), folder) == plain
    bad = WHOLE.replace("quantity = 6", "quantity = 0")
    expected = [(p.line, p.column) for p in problems_of(bad, folder)]
    with pytest.raises(JobProblems) as caught:
        read("\ufeff" + bad.replace("\n", "\r\n"), folder)
    assert [(p.line, p.column) for p in caught.value.problems] == expected


def test_a_problem_shows_its_line_and_a_caret(folder: Path) -> None:
    (problem,) = problems_of(WHOLE.replace('width = "300 mm"', "width = 300", 1), folder)
    place, line, caret = problem.render().split("\n")
    assert place.startswith(f'{folder / "job.toml"}:{problem.line}:9: part "oar rack", width: 300 has no unit; ')
    assert line == "    width = 300"
    assert caret == "            ^"
