"""Hundreds of damaged job files: each gives problems with a place, or a job; never another exception."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.faults.job_mutations import MUTATIONS, mutated

from steadfold.job import JobProblems, read_job, read_job_text

HERE = Path(__file__).parent
SEEDS = 60 * len(MUTATIONS)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("damaged")
    (folder / "drawings").mkdir()
    (folder / "rail_end.step").write_text("solid", encoding="utf-8")
    (folder / "drawings" / "cover.dxf").write_text("lines", encoding="utf-8")
    return folder


@pytest.mark.parametrize("mutation", range(len(MUTATIONS)), ids=[each.__name__ for each in MUTATIONS])
def test_a_damaged_file_gives_a_sentence_or_a_job(mutation: int, folder: Path) -> None:
    whole = (HERE / "whole_job.toml").read_text(encoding="utf-8")
    refused = 0
    for seed in range(mutation, SEEDS, len(MUTATIONS)):
        name, data = mutated(whole, seed)
        file = folder / f"{mutation}.toml"
        file.write_bytes(data)
        try:
            read_job(file)
        except JobProblems as error:
            refused += 1
            text = data.decode("utf-8", errors="replace").removeprefix("\ufeff").replace("\r\n", "\n")
            lines = text.split("\n")
            assert error.problems, (seed, name)
            for problem in error.problems:
                assert 10 <= len(problem.sentence) <= 500, (seed, name, problem)
                assert problem.sentence.isprintable(), (seed, name, problem)
                assert 0 <= problem.line <= len(lines)
                assert not problem.line or 1 <= problem.column <= len(lines[problem.line - 1]) + 1
                assert len(problem.render()) < 1200
    # Damage that the reader never notices would say that it does not look.
    assert refused >= 5


HOSTILE = {
    "deep list": "a = " + "[" * 5000 + "]" * 5000,
    "deep braces": "a = " + "{x=" * 5000,
    "long dotted key": "a" + ".a" * 5000 + " = 1",
    "long number": "a = " + "9" * 5000,
    "long hexadecimal number": "steadfold = 0x" + "f" * 5000,
    "many parts": "steadfold = 1\n" + "[[part]]\n" * 20000,
    "many brackets": "[" * 20000,
    "nothing": "",
    "only a comment": "# nothing",
    "zero byte": "\x00",
    "many points": "steadfold = 1\n[[part]]\nname = 'x'\nmaterial = 'DC01'\nthickness = '2 mm'\nshape = 'panels'\n"
    "[[part.panel]]\nname = 'a'\noutline = [" + '["0 mm", "0 mm"],' * 20000 + "]",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_text_is_refused_in_words(name: str) -> None:
    with pytest.raises(JobProblems) as caught:
        read_job_text(HOSTILE[name])
    assert len(caught.value.problems) <= 101
    assert all(len(problem.sentence) < 500 for problem in caught.value.problems)
