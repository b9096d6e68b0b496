"""The record of a quote: its bytes, and the reader that trusts nobody."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.assumptions import assumption_table
from compare.decide.comparison import compare
from compare.decide.varied_inputs import varied_inputs
from compare.errors import EvenrunError, FileError, InputError, UnknownNameError
from compare.quotes.client_quote import SealedQuote
from compare.quotes.quote_record import QuoteAsked, QuoteRecord, canonical
from compare.quotes.record_reader import MOST_BYTES, read_attachment, read_record, read_sealed
from compare.quotes.recording import record_quote
from compare.quotes.sealing import sealed_quote
from compare.readers.jobfile import Layer, ranges_layer
from compare.scenario import prepare
from dashboard.client import price_factor
from tests.quotes.made_quotes import (
    DATA,
    PROGRAM,
    SCOPE,
    SECRET,
    asked,
    drawn_quote,
    job_layer,
    of_client,
    one_line,
    plant_layer,
    quote,
    some_quote,
)

ANY_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=200)


# -- bytes ------------------------------------------------------------------------------------------------------------


def test_every_demo_job_comes_back_as_it_was(demo_job):
    record = quote(demo_job)
    assert read_record(record.to_bytes()) == record


@settings(max_examples=200, deadline=None)
@given(client=ANY_TEXT, name=ANY_TEXT, note=ANY_TEXT)
def test_any_text_comes_back_as_it_was(client, name, note):
    record = replace(of_client(client), name=name, note=note)
    assert read_record(record.to_bytes()) == record


@pytest.mark.parametrize(
    "client",
    [
        "شركة الورق \u200fوالكرتون",
        "紙箱株式会社",
        'A "quote" and a \\ and </script>',
        "two\nlines\r\nand a tab\t",
        "x" * 200,
        "\u2028\u2029\x00",
        "=1+1",
        "e\u0301 is not \u00e9",
        "👩‍👩‍👧",
    ],
)
def test_a_text_that_is_hard_to_print_is_kept_to_the_letter(client):
    assert read_record(of_client(client).to_bytes()).asked.client == client


def test_the_bytes_are_canonical_json_of_what_any_reader_of_json_sees():
    """So that a digest over them is the same on any machine: sorted keys, no spaces, all digits, UTF-8."""
    raw = of_client("紙").to_bytes()
    data = json.loads(raw)
    assert json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode() == raw
    assert "紙".encode() in raw
    assert data["inputs"]["rates.press_h"] == some_quote().inputs["rates.press_h"]


@settings(max_examples=100, deadline=None)
@given(st.floats(0, 0.9), st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_margin_and_days_come_back_to_the_last_digit(margin, day):
    record = some_quote()
    record = replace(record, asked=replace(record.asked, margin=margin, made_on=day, valid_until=day))
    assert read_record(record.to_bytes()) == record


def test_a_number_that_is_not_finite_is_not_written():
    with pytest.raises(InputError, match="not finite"):
        canonical({"a": float("nan")})


def test_the_planned_path_comes_back_in_the_order_it_is_summed_in():
    loads = drawn_quote().loads
    assert loads is not None
    again = type(loads).of(loads.loads())
    assert again == loads


# -- what is asked ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("percent", [0.0, 12.0, 33.3, 90.0])
def test_a_margin_means_what_it_means_on_a_client_link(percent):
    """A share of the price: 20 % on a cost of 80 is a price of 100, not of 96."""
    assert asked((1000.0,), margin=percent / 100).price_factor == pytest.approx(price_factor(percent), rel=1e-15)
    assert asked((1000.0,), margin=0.2).price_factor * 80 == pytest.approx(100)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"client": "x" * 201}, "201 characters; 200 are the limit"),
        ({"client": "\ud800"}, "can't be written"),
        ({"margin": -0.01}, "the margin is not usable; give 0 to 90% of the price"),
        ({"margin": 0.91}, "the margin"),
        ({"margin": float("nan")}, "the margin"),
        ({"margin": True}, "the margin"),
        ({"valid_until": date(2026, 3, 1)}, "ends before it is made"),
        ({"run_lengths": ()}, "run lengths are not usable"),
        ({"run_lengths": (2000.0, 1000.0)}, "rising, each once"),
        ({"run_lengths": (1000.0, 1000.0)}, "rising, each once"),
        ({"run_lengths": (0.5,)}, "run lengths: demand.run_length must be"),
        ({"run_lengths": tuple(float(n) for n in range(1, 14))}, "1 to 12"),
    ],
)
def test_what_can_not_be_asked_is_told(changes, told):
    with pytest.raises(InputError, match=told):
        asked(**{"run_lengths": (1000.0,), **changes})


# -- from a comparison ------------------------------------------------------------------------------------------------


def _made(job="cosmetics_cutouts", *more: Layer, run_lengths=None, costing="full", as_if=()):
    plants, jobs = (plant_layer(),), (job_layer(job), *more)
    comparison = compare(prepare(*plants, *jobs), costing)
    wanted = asked(run_lengths or (comparison.run_length,))
    return record_quote(comparison, plants, (*jobs, *as_if), wanted, program=PROGRAM)


def test_a_record_holds_what_was_given_with_its_label_and_its_range():
    record = _made("cosmetics_cutouts", ranges_layer(["demand.run_length=4000..9000 pert"]))
    plant, job, between = record.layers
    assert (plant.of, plant.values["rates.labour_h"]) == ("plant", 34.0)
    assert (job.of, job.values["carton.style"]) == ("job", "straight_tuck_end")
    assert job.label.endswith("cosmetics_cutouts.toml")
    assert (between.label, dict(between.ranges)) == ("--between", {"demand.run_length": "4000..9000 pert"})
    assert read_record(record.to_bytes()) == record


def test_a_record_holds_how_far_each_input_was_varied():
    record = _made("cosmetics_cutouts", ranges_layer(["demand.run_length=4000..9000 pert"]))
    table = assumption_table()["toolmaker.set_fee"]
    assert record.ranges["toolmaker.set_fee"] == f"{table.low:g}..{table.high:g} triangular"
    assert record.ranges["rates.labour_h"] == "32..37 triangular"  # the plant's
    assert record.ranges["demand.run_length"] == "4000..9000 pert"
    assert record.ranges["factors.kwh"].endswith(" lognormal")
    assert "laser.power_w" not in record.ranges  # given without a range
    varied = varied_inputs(prepare(plant_layer(), job_layer("cosmetics_cutouts")))
    assert record.ranges.keys() == {*varied.spreads, "demand.run_length"}


def test_figures_of_the_record_are_those_of_the_comparison():
    record = quote("soap_sleeve")
    comparison = compare(prepare(plant_layer(), job_layer("soap_sleeve")))
    die = record.results.die
    assert die.figures.cost_per_1000 == comparison.die.cost_per_1000
    assert die.strategy == "ganged"
    assert sum(die.figures.stage_costs.values()) == pytest.approx(die.figures.cost_per_1000, rel=1e-12)
    assert [r.end for r in record.results.break_even["cost"].ranges] == [
        r.end for r in comparison.break_even["cost"].ranges
    ]
    assert record.results.cheaper == comparison.cheaper


def test_a_route_that_can_not_make_the_job_has_no_figure():
    """One would be mistaken for a result."""
    record = quote("gift_varnish_release")
    assert record.results.die.figures is None
    assert record.results.die.faults
    assert record.results.laser.figures is not None


def test_a_record_of_other_layers_than_the_comparison_is_refused():
    with pytest.raises(InputError, match=r"laser\.heads is not what the comparison was made with"):
        _made(as_if=(Layer("other", {"laser.heads": 2.0}),))


def test_a_record_of_other_rates_than_the_comparison_is_refused():
    with pytest.raises(InputError, match="other machine rates"):
        _made(costing="cash")


def test_the_run_length_of_the_job_is_among_those_with_a_price():
    with pytest.raises(InputError, match="leave out the one of the job; add 5000"):
        _made(run_lengths=(4000.0, 6000.0))


def test_a_run_of_fewer_cartons_than_versions_has_no_price():
    with pytest.raises(InputError, match="a run of 5 cartons is shorter than its 6 versions"):
        _made("soap_sleeve", run_lengths=(5.0, 6000.0))


def test_a_drawing_is_known_again_by_the_digest_of_its_bytes():
    drawing = drawn_quote().drawing
    file, line_map = (DATA / "demo" / "drawings" / name for name in ("window_carton.dxf", "lines.toml"))
    assert (drawing.name, drawing.line_map) == ("window_carton.dxf", "lines.toml")
    assert drawing.sha256 == hashlib.sha256(file.read_bytes()).hexdigest()
    assert drawing.line_map_sha256 == hashlib.sha256(line_map.read_bytes()).hexdigest()
    assert drawing.values["work.cutting_m"] == pytest.approx(1.312, abs=1e-3)
    assert drawing.values["layout.ups_die"] == 9


def test_a_drawing_that_was_removed_in_between_is_an_error():
    plants, jobs = (plant_layer(),), (job_layer("window_from_drawing"),)
    comparison = compare(prepare(*plants, *jobs))
    gone = replace(jobs[0], folder=DATA / "nowhere")
    with pytest.raises(FileError, match="the file can't be read"):
        record_quote(comparison, plants, (gone,), asked((comparison.run_length,)), program=PROGRAM)


# -- files of other people --------------------------------------------------------------------------------------------


def _edited(edit) -> bytes:
    data = json.loads(some_quote().to_bytes())
    edit(data)
    return canonical(data)


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"{}",
        b"[]",
        b"null",
        b"\xff\xfe",
        b"%PDF-1.7",
        b'{"client":',
        b"[" * 100_000,
        b'{"a":' * 50_000,
        b"1" * 10_000,
        some_quote().to_bytes() + b" ",
        some_quote().to_bytes() + b"{}",
        some_quote().to_bytes()[:-1],
        json.dumps(json.loads(some_quote().to_bytes()), sort_keys=True).encode(),
        some_quote().to_bytes().replace(b'{"asked":', b'{"asked":{},"asked":', 1),
        b'{"zzz":1,' + some_quote().to_bytes()[1:],
        some_quote().to_bytes().replace(b'"margin":0.12', b'"margin":0.120', 1),
        some_quote().to_bytes().replace(b'"margin":0.12', b'"margin":NaN', 1),
        some_quote().to_bytes().replace(b'"margin":0.12', b'"margin":1e999', 1),
        some_quote().to_bytes().replace(b'"margin":0.12', b'"margin":"0.12"', 1),
        some_quote().to_bytes().replace(b'"margin":0.12', b'"margin":true', 1),
    ],
    ids=range(21),
)
def test_what_is_not_byte_for_byte_a_record_is_refused_in_one_line(raw):
    with pytest.raises(InputError) as caught:
        read_record(raw, where="some.pdf")
    assert str(caught.value).startswith("some.pdf: ")
    assert "\n" not in str(caught.value)


def test_a_record_that_is_too_large_is_not_even_looked_at():
    with pytest.raises(InputError, match="over 2 MB"):
        read_record(b" " * (MOST_BYTES + 1))


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (lambda d: d["layers"][0]["values"].update({"rates.labor_h": 1.0}), "did you mean rates.labour_h"),
        (lambda d: d["inputs"].update({"laser.hedas": 1.0}), "did you mean laser.heads"),
        (lambda d: d["choices"].update({"laser.heads": "4"}), "there is no name 'laser.heads'"),
        (lambda d: d["inputs"].update({"laser.heads": -1.0}), "laser.heads must be at least 1"),
        (lambda d: d["inputs"].update({"laser.power_w": 0.0}), "laser.power_w must be above 0"),
        (lambda d: d["layers"][1]["values"].update({"carton.style": "envelope"}), "there is no choice 'envelope'"),
        (lambda d: d["layers"][1]["ranges"].update({"demand.run_length": "many"}), "can't be read"),
        (lambda d: d["inputs"].update({"../../etc": 1.0}), "no dotted name"),
        (lambda d: d["ranges"].update({"../../etc": "1..2 triangular"}), "no dotted name"),
        (lambda d: d["ranges"].update({"laser.setup_h": "\x1b[31m"}), "a range that is none"),
        (lambda d: d["choices"].pop("plant.currency"), "every text"),
        (lambda d: d["asked"].update({"run_lengths": [7.0]}), "no price for the run length of its job"),
        (lambda d: d["results"]["die"]["figures"]["costs_at_run_lengths"].pop(), "one price for each run length"),
        (lambda d: d["results"]["die"].update({"figures": None}), "or none for one that can"),
        (lambda d: d["asked"].update({"margin": 0.95}), "the margin is not usable"),
        (lambda d: d["asked"].update({"client": "x" * 201}), "201 characters"),
        (lambda d: d["asked"].update({"language": "tlh"}), "asked.language"),
        (lambda d: d["asked"].update({"made_on": "2026-02-30"}), "asked.made_on"),
        (lambda d: d.update({"quote_format": 2}), "quote_format"),
        (lambda d: d["inputs"].update({"laser.heads": [1, 2]}), "inputs.laser.heads"),
    ],
)
def test_a_record_of_todays_tables_is_held_to_them(edit, told):
    with pytest.raises(InputError, match=told):
        read_record(_edited(edit))


def test_an_unknown_name_is_told_as_one():
    with pytest.raises(UnknownNameError):
        read_record(_edited(lambda d: d["layers"][0]["values"].update({"rates.labor_h": 1.0})))


def test_a_record_of_older_tables_may_hold_a_name_that_is_gone_since():
    """Else no quote could be reopened once a name of the tables has changed."""

    def edit(data):
        data["versions"]["tables"] = "0" * 12
        data["layers"][0]["values"]["rates.abolished_h"] = 1.0

    assert read_record(_edited(edit)).layers[0].values["rates.abolished_h"] == 1.0


_LEAVES = st.sampled_from([None, True, -1, 0, 1e308, -0.0, 10**30, "", "x", "2026-01-01", [], {}, [[]], {"a.b": 1.0}])


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_whatever_stands_in_a_record_is_read_or_refused_in_one_line(data):
    """Any part of a record replaced by anything."""
    tree = json.loads(some_quote().to_bytes())
    at = tree
    while True:
        keys = list(range(len(at))) if isinstance(at, list) else sorted(at)
        key = data.draw(st.sampled_from(keys))
        if isinstance(at[key], (dict, list)) and at[key] and data.draw(st.booleans()):
            at = at[key]
        else:
            at[key] = data.draw(_LEAVES)
            break
    try:
        assert isinstance(read_record(canonical(tree)), QuoteRecord)
    except EvenrunError as error:
        one_line(error)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, len(some_quote().to_bytes()) - 1), st.integers(1, 255))
def test_a_changed_byte_is_refused_or_read_as_what_it_says(place, change):
    raw = bytearray(some_quote().to_bytes())
    raw[place] ^= change
    try:
        assert read_record(bytes(raw)).to_bytes() == bytes(raw)
    except EvenrunError as error:
        one_line(error)


@pytest.mark.parametrize(
    "edit",
    [
        lambda d: d["asked"].update({"margin": "\x1b[31m<script>"}),
        lambda d: d["inputs"].update({"\x1b[31m<script>": []}),
        lambda d: d["layers"][1]["values"].update({"carton.style": "\x1b[31m" + "<script>" * 1000}),
    ],
)
def test_a_message_holds_no_control_character_and_little_of_what_a_stranger_wrote(edit):
    """A terminal would obey it."""
    with pytest.raises(InputError) as caught:
        read_record(_edited(edit))
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 600


def test_either_kind_of_file_is_told_from_the_other():
    record = some_quote()
    sealed = sealed_quote(record, SECRET, scope=SCOPE)
    assert read_attachment(record.to_bytes()) == record
    assert read_attachment(sealed.to_bytes()) == sealed
    assert isinstance(read_attachment(sealed.to_bytes()), SealedQuote)
    with pytest.raises(InputError, match="no record of a quote"):
        read_record(sealed.to_bytes())
    with pytest.raises(InputError, match="no record of a quote"):
        read_sealed(record.to_bytes())


def test_what_is_asked_is_frozen():
    with pytest.raises(AttributeError):
        some_quote().asked.margin = 0.5  # type: ignore[misc]
    assert isinstance(some_quote().asked, QuoteAsked)
