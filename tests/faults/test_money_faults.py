"""Money, quotes, rates and [sale] that cannot be read: a sentence each, every problem at once, nothing half done."""

from __future__ import annotations

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from steadfold.job.models import Job
from steadfold.job.problem import JobProblems
from steadfold.job.reader import read_job_text
from steadfold.job.sale_table import quotes_file, read_sale
from steadfold.money.amount import Money, MoneyError, read_money
from steadfold.money.quotes import QuotesError, by_shop, quotes_in, read_quotes
from steadfold.money.rates import RatesError, read_rates, typical_rates
from steadfold.money.sale import Sale

HEADER = "part,quantity,total,date,shop\n"
GOOD = "oar rack,6,118.40 EUR,2025-03-02,Harbour Metal\n"


def said(text: str) -> tuple[str, ...]:
    """The sentences about a text of quotes."""
    with pytest.raises(QuotesError) as caught:
        read_quotes(text, "EUR")
    return caught.value.sentences


def test_an_exact_amount_stays_exact() -> None:
    assert read_money("0.10 EUR") + read_money("0.20 EUR") == Money(Decimal("0.30"), "EUR")
    assert str(read_money("€2.345")) == "2.35 EUR"
    assert str(Money(Decimal("2.5"), "JPY")) == "3 JPY"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("12.50", "has no currency"),
        ("12,50 EUR", "the decimal sign is a point"),
        ("1,234.50 EUR", "thousands are not parted"),
        ("EUR", "is no money"),
        ("12 eur", "is no money"),
        ("EUR 12 USD", "names two currencies"),
        ("9" * 39, "has no currency"),
        ("9" * 13 + " EUR", "more money than anybody has"),
        ("9" * 50, "a text of 50 characters"),
        (12.5, "has no currency"),
        (None, "has no currency"),
    ],
)
def test_what_is_no_money_is_refused_in_a_sentence(text: object, sentence: str) -> None:
    with pytest.raises(MoneyError, match=sentence):
        read_money(text)


def test_two_currencies_never_mix() -> None:
    for mixed in (lambda a, b: a + b, lambda a, b: a - b, lambda a, b: a < b):
        with pytest.raises(MoneyError, match="EUR and USD cannot be reckoned together"):
            mixed(read_money("1 EUR"), read_money("1 USD"))


def test_good_quotes_are_read_in_any_column_order_and_with_semicolons() -> None:
    shuffled = "shop;date;total;quantity;part\nHarbour Metal;2025-03-02;118.40;6;oar rack\n"
    for text in (HEADER + GOOD, "\ufeff" + HEADER.replace(",", " , ") + GOOD, shuffled, HEADER + "\n\n" + GOOD):
        (quote,) = read_quotes(text, "EUR")
        assert (quote.part, quote.quantity, str(quote.total), quote.shop) == (
            "oar rack", 6, "118.40 EUR", "Harbour Metal",
        )  # fmt: skip


def test_the_same_shop_spelt_two_ways_is_one_shop() -> None:
    quotes = read_quotes(HEADER + GOOD + GOOD.replace("Harbour Metal", "harbour metal"), "EUR")
    assert {name: len(own) for name, own in by_shop(quotes).items()} == {"Harbour Metal": 2}


@pytest.mark.parametrize("text", ["", "\n \n", "\ufeff"])
def test_an_empty_file_is_told_what_its_first_line_would_be(text: str) -> None:
    (sentence,) = said(text)
    assert "the file is empty" in sentence and HEADER.strip() in sentence


def test_a_header_without_quotes_says_that_there_are_none() -> None:
    assert said(HEADER) == ("there is a header but no quote under it",)


def test_a_wrong_header_names_what_is_missing_and_the_nearest_of_what_is_there() -> None:
    sentences = said("part,quantty,price,date,shop\n" + GOOD)
    assert any("there is no column 'quantity'" in s for s in sentences)
    assert any("there is no column 'total'" in s for s in sentences)
    assert any("'quantty'; did you mean 'quantity'?" in s for s in sentences)


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("oar rack,6,118.40 USD,2025-03-02,Harbour", "line 2: '118.40 USD' is not in EUR, the currency of the rates"),
        ("oar rack,6,-118.40 EUR,2025-03-02,Harbour", "line 2: '-118.40 EUR' must be more than 0"),
        ("oar rack,6,0,2025-03-02,Harbour", "line 2: '0' must be more than 0"),
        ("oar rack,0,118,2025-03-02,Harbour", "line 2: '0' is no quantity"),
        ("oar rack,six,118,2025-03-02,Harbour", "line 2: 'six' is no quantity"),
        ("oar rack,2.5,118,2025-03-02,Harbour", "line 2: '2.5' is no quantity"),
        ("oar rack,6,much,2025-03-02,Harbour", "line 2: 'much' is no money"),
        ("oar rack,6,118,02/03/25,Harbour", "line 2: '02/03/25' is not a date; write it like 2025-03-31"),
        (",6,118,2025-03-02,Harbour", "line 2: part is empty"),
        ("oar rack,6,118,2025-03-02,", "line 2: shop is empty"),
        ("oar rack,6,118,2025-03-02", "line 2: 4 values where the header has 5"),
        ('oar rack,6,"1,180.00",2025-03-02,Harbour', "thousands are not parted"),
    ],
)
def test_each_fault_of_a_quote_is_a_sentence_with_its_line(line: str, sentence: str) -> None:
    sentences = said(HEADER + line + "\n")
    assert len(sentences) == 1
    assert sentence in sentences[0]


def test_all_faults_of_a_file_are_told_at_once() -> None:
    sentences = said(HEADER + "a,0,1 USD,never,Harbour\n" + GOOD + "b,1,0,2025-01-01,Harbour\n")
    assert len(sentences) == 4
    assert sum(s.startswith("line 2") for s in sentences) == 3


@pytest.mark.parametrize("data", [b"\xff\xfe\x00part", b"\x00" * 50, b'part,"quantity\n', b"part" * 2_000_001])
def test_files_that_are_no_csv_are_a_sentence(tmp_path: Path, data: bytes) -> None:
    file = tmp_path / "quotes.csv"
    file.write_bytes(data)
    with pytest.raises(QuotesError) as caught:
        quotes_in(file, "EUR")
    assert len(caught.value.sentences) >= 1
    assert all(len(s) < 300 for s in caught.value.sentences)


def test_a_file_that_is_not_there_or_a_folder_is_a_sentence(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(QuotesError, match="cannot be opened"):
            quotes_in(path, "EUR")


@pytest.mark.parametrize(
    ("own", "place", "sentence"),
    [
        ({"laser": "-95 EUR/h"}, "laser", "is a negative rate"),
        ({"laser": "95 EUR"}, "laser", "is not money per h"),
        ({"laser": "95 EUR/kg"}, "laser", "is not money per h"),
        ({"laser": 95}, "laser", "has no currency"),
        ({"laser": "95 USD/h"}, "laser", "is not in EUR"),
        ({"lazer": "95 EUR/h"}, "lazer", "did you mean 'laser'?"),
        ({"currency": "euro"}, "currency", "three capital letters"),
        ({"currency": "USD"}, "currency", "write per_euro"),
        ({"currency": "USD", "per_euro": -1}, "per_euro", "cannot be"),
        ({"metal": {"mild steel": "dear"}}, "metal.mild steel", "is not money per kg"),
        ({"metal": {"mild steel": "dear/kg"}}, "metal.mild steel", "is no money"),
        ({"metal": 3}, "metal", "should be a table"),
        ({"times": {"pack": "soon"}}, "times.pack", "is not a time"),
        ({"times": {"wrap": "3 s"}}, "times.wrap", "nobody here knows"),
        ({"cutting": {"share_of_chart": 1.5}}, "cutting.share_of_chart", "between 0 and 1"),
        ({"shipping": {"mass": ["2 kg"], "price": ["7 EUR", "9 EUR"]}}, "shipping", "two lists of one length"),
        ({"shipping": {"mass": ["9 kg", "2 kg"], "price": ["7 EUR", "9 EUR"]}}, "shipping.mass", "from light to heavy"),
        ({"shipping": {"volume_per_kg": "much"}}, "shipping.volume_per_kg", "is not a volume"),
        ({"date": "soon"}, "date", "is not a date"),
    ],
)
def test_each_fault_of_the_rates_is_a_sentence_at_its_key(own: dict[str, object], place: str, sentence: str) -> None:
    with pytest.raises(RatesError) as caught:
        read_rates(own)
    found = [p for p in caught.value.found if ".".join(p.path) == place]
    assert found and sentence in found[0].sentence


JOB = """steadfold = 1
name = "Boat shed"
[[part]]
name = "oar rack"
material = "S235"
thickness = "3 mm"
shape = "tine rack"
width = "300 mm"
[sale]
"""


def sale_of(text: str) -> Sale | None:
    rates = typical_rates()
    return read_sale(read_job_text(JOB + text), "EUR", rates.shipping)


def test_a_sale_is_read_with_its_shares_exact() -> None:
    sale = sale_of('margin = "35 %"\nchannel_fee = "12.5 %"\ndesign = "600 EUR"\npostage = "collected"\n'
                   'demand = { low = 2, high = 8.5 }\n[[sale.variant]]\nname = "bare"\nfinish = "none"\n')  # fmt: skip
    assert sale is not None and sale.demand is not None
    assert sale.fees.channel == Decimal("0.125")
    assert sale.design == Money(Decimal(600), "EUR")
    assert sale.postage is None
    assert (sale.demand.low, sale.demand.high) == (2.0, 8.5)
    assert (sale.variants[0].name, sale.variants[0].finish) == ("bare", "none")
    assert sale.contents == (("oar rack", 1),)


def test_a_job_without_a_sale_has_none() -> None:
    job = read_job_text(JOB.replace("[sale]\n", ""))
    assert read_sale(job, "EUR", typical_rates().shipping) is None


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("margin = 0.35", 'write a percentage, like margin = "12 %"'),
        ('margin = "120 %"', "at most 95 %"),
        ('channel_fee = "-3 %"', "write a percentage"),
        ('design = "600 USD"', "is not in EUR"),
        ('design = "-600 EUR"', "is below nothing"),
        ("design = 600", "has no currency"),
        ('price = "0 EUR"', "more than nothing"),
        ("batch = 0", "out of range"),
        ('part = "oar rak"', 'did you mean "oar rack"?'),
        ('contents = { "oar rak" = 2 }', 'did you mean "oar rack"?'),
        ("contents = {}", "this is empty"),
        ("demand = { low = 8, high = 2 }", "the lower first"),
        ("demand = { low = 2 }", "high not given"),
        ("demand = { low = 2, high = 8, lumpiness = 0.5 }", "lumpiness is 0, or from 1 to 100"),
        ('demand = { low = 2, high = 8, lumpiness = "lots" }', "lumpiness is 0, or from 1 to 100"),
        ('marginn = "3 %"', 'did you mean "margin"?'),
        ("[[sale.variant]]\nfinish = \"none\"", '"name" is missing'),
        ('[[sale.variant]]\nname = "x"\nfinish = "gold"', "gold"),
        ('[[sale.variant]]\nname = "x"\n[[sale.variant]]\nname = "x"', "one name"),
    ],
)
def test_each_fault_of_a_sale_is_a_sentence_at_its_line(line: str, sentence: str) -> None:
    with pytest.raises(JobProblems) as caught:
        sale_of(line + "\n")
    assert any(sentence in problem.sentence for problem in caught.value.problems), caught.value.problems
    assert all(problem.line >= JOB.count("\n") for problem in caught.value.problems)


def job_in(folder: Path, text: str) -> Job:
    (folder / "job.toml").write_text(JOB + text)
    return read_job_text(JOB + text, folder / "job.toml")


@pytest.mark.parametrize(
    ("name", "sentence"),
    [("../quotes.csv", "leaves the folder"), ("/etc/passwd", "not relative"), ("none.csv", "no file"), ("a.txt", ".csv")],
)
def test_a_quotes_file_outside_the_jobs_folder_or_missing_is_refused(tmp_path: Path, name: str, sentence: str) -> None:
    job = job_in(tmp_path, f'quotes = "{name}"\n')
    sale = read_sale(job, "EUR", typical_rates().shipping)
    assert sale is not None
    with pytest.raises(JobProblems) as caught:
        quotes_file(job, sale)
    assert sentence in caught.value.problems[0].sentence


def steadfold(*words: str) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own."""
    command = [sys.executable, "-m", "steadfold.cli.main", *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_the_commands_say_one_json_object_and_exit_two_for_what_cannot_be_read(tmp_path: Path) -> None:
    job, quotes = tmp_path / "job.toml", tmp_path / "quotes.csv"
    job.write_text(JOB + 'margin = "35 %"\n')
    quotes.write_text(HEADER + "oar rack,6,118.40 USD,2025-03-02,Harbour\n")
    for command in ("cost", "price"):
        outcome = steadfold(command, str(job), "--quotes", str(quotes), "--json")
        assert outcome.returncode == 2, outcome.stderr
        assert "is not in EUR" in json.dumps(json.loads(outcome.stdout))
        assert outcome.stderr == ""


def test_cost_says_one_json_object_with_the_price_of_each_part(tmp_path: Path) -> None:
    job, quotes = tmp_path / "job.toml", tmp_path / "quotes.csv"
    job.write_text(JOB)
    quotes.write_text(HEADER + "".join(f"oar rack,{n},{20 * n + 90} EUR,2025-03-02,Harbour\n" for n in (2, 10, 50)))
    plain, taught = (steadfold("cost", str(job), *more, "--json") for more in ((), ("--quotes", str(quotes))))
    assert plain.returncode == taught.returncode == 0, plain.stderr + taught.stderr
    before, after = json.loads(plain.stdout), json.loads(taught.stdout)
    assert (before["basis"], after["basis"]) == ("uncalibrated", "calibrated")
    for said in (before, after):
        (part,) = said["parts"]
        assert part["low"] < part["each"] < part["high"]
    width = [p["high"] / p["low"] for p in (before["parts"][0], after["parts"][0])]
    assert width[1] < width[0]
    ten = next(row["each"] for row in after["parts"][0]["at"] if row["quantity"] == 10)
    # Quoted at 29.00 each for ten, and carriage of ten on top.
    assert ten == pytest.approx(29.0 + 1.7, abs=2.5)


def test_price_without_a_sale_says_where_to_find_one(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB.replace("[sale]\n", ""))
    outcome = steadfold("price", str(job))
    assert outcome.returncode == 2
    assert "has no [sale] table" in outcome.stderr


@pytest.mark.parametrize("at", ["0", "x", "-1", "1,2,", "1;2"])
def test_quantities_that_are_none_are_refused(tmp_path: Path, at: str) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    outcome = steadfold("cost", str(job), f"--at={at}")
    assert (outcome.returncode == 0) == (at == "1,2,")


def test_size_refuses_a_field_without_values(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    for vary in ("tine_width", "tine_width=40 mm..20 mm/5 mm", "tine_width=1 mm..9 m/1 um"):
        outcome = steadfold("size", str(job), "--vary", vary, "--coarse")
        assert outcome.returncode == 2, outcome.stderr
        assert vary.split("=")[0] in outcome.stderr


@pytest.mark.parametrize(
    ("vary", "sentence"),
    [
        ("tine_widht=20 mm..30 mm/5 mm", 'did you mean "tine_width"?'),
        ("tine_width=20..30/5", "has no unit"),
        ("thickness=2 mm,2 mm", "names a value twice"),
        ("material=unobtainium", "unobtainium"),
    ],
)
def test_a_field_that_takes_none_of_its_values_is_told_before_anything_is_searched(
    tmp_path: Path, vary: str, sentence: str
) -> None:
    """It was a search in which nothing was enough."""
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    outcome = steadfold("size", str(job), "--vary", vary, "--coarse")
    assert outcome.returncode == 2, outcome.stdout
    assert sentence in outcome.stderr


def test_a_quote_that_is_still_to_come_is_noted(tmp_path: Path) -> None:
    job, quotes = tmp_path / "job.toml", tmp_path / "quotes.csv"
    job.write_text(JOB)
    quotes.write_text(HEADER + "oar rack,6,118.40,2099-03-02,Harbour\n")
    outcome = steadfold("cost", str(job), "--quotes", str(quotes))
    assert outcome.returncode == 0
    assert "dated after today" in " ".join(outcome.stdout.split())
    told = json.loads(steadfold("cost", str(job), "--quotes", str(quotes), "--json").stdout)
    assert [f["code"] for f in told["findings"]] == ["quote-to-come"]


def test_a_negative_rate_of_the_jobs_shop_is_told_at_its_line(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB.replace("[[part]]", '[shop]\nprofile = "./shop.toml"\n[[part]]', 1))
    (tmp_path / "shop.toml").write_text('name = "own"\n[rates]\nlaser = "-95 EUR/h"\n')
    outcome = steadfold("cost", str(job))
    assert outcome.returncode == 2
    assert "shop.toml:3" in outcome.stderr and "negative rate" in outcome.stderr
