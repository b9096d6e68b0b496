"""Job and plant files: what can be read, and what is refused with place and remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from compare import read_file
from compare.errors import EvenrunError, FileError, InputError, UnknownNameError
from compare.readers.jobfile import check_values, settings_layer

DATA = Path(__file__).resolve().parents[2] / "data"


@pytest.fixture
def read(tmp_path):
    """Write a file and read it as a job."""

    def reader(content: str | bytes):
        path = tmp_path / "job.toml"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_file(path, kind="job")

    return reader


@pytest.mark.parametrize(
    "path", sorted(DATA.glob("demo/*.toml")) + sorted(DATA.glob("plants/*.toml")), ids=lambda p: p.stem
)
def test_every_file_of_the_demo_can_be_read(path):
    assert read_file(path, kind="job").values


def test_tables_become_dotted_names(read):
    assert read("[laser]\nheads = 4\n[demand]\nrun_length = 20_000\n").values == {
        "laser.heads": 4.0,
        "demand.run_length": 20_000.0,
    }


def test_a_dotted_name_may_stand_outside_a_table(read):
    assert read('"laser.heads" = 4\nlaser.power_w = 900').values == {"laser.heads": 4.0, "laser.power_w": 900.0}


def test_name_and_note_are_kept_apart_from_the_values(read):
    layer = read('name = "Tea"\nnote = "Try it"\n')
    assert (layer.about, layer.values) == ({"name": "Tea", "note": "Try it"}, {})


def test_an_empty_file_gives_nothing(read):
    assert read("").values == {}


def test_a_byte_order_mark_does_not_hurt(read):
    """Some editors write one at the head of a UTF-8 file."""
    assert read(b"\xef\xbb\xbf[laser]\nheads = 4\n").values == {"laser.heads": 4.0}


def test_a_layer_is_called_by_its_path(read, tmp_path):
    assert read("").label == str(tmp_path / "job.toml")


def test_a_switch_may_be_true_or_false(read):
    assert read("[tooling]\nowned = true\n").values == {"tooling.owned": 1.0}


def test_a_factor_may_be_keys_of_the_factor_table(read):
    assert read('[factors]\nkwh = "uk2025_elec_full"\n').values == {"factors.kwh": "uk2025_elec_full"}


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("a = [", "the job file is not TOML"),
        ('name = "a"\nname = "b"', "the job file is not TOML"),
        (b"\xff\xfe\x00", "the job file is not UTF-8 text; save it as UTF-8"),
        ("[laser]\nheds = 4", r"there is no name 'laser.heds'; did you mean laser.heads"),
        ("[lasr]\nheads = 4", r"there is no name 'lasr.heads'; did you mean laser.heads"),
        ("heads = 4", r"there is no name 'heads'; did you mean laser.heads"),
        ("name = 4", "name is not a text; put it in quotes"),
        ("[board]\ngrade = 300", "board.grade is 300.*, which is not a text; put it in quotes"),
        ('[board]\nlaminate = "gold"', "board.laminate: there is no choice 'gold'; there is: "),
        ('[laser]\nheads = "four"', "laser.heads is 'four', which is not a number"),
        ("[laser]\nheads = true", "laser.heads is 'true', which is not a number"),
        ("[laser]\nheads = 2020-01-01", "laser.heads is a date, which is not a number"),
        ("[laser]\nheads = nan", "laser.heads is not a finite number"),
        ("[laser]\nheads = inf", "laser.heads is not a finite number"),
        ("[laser]\nheads = -1", "laser.heads must be at least 1"),
        ("[laser]\nheads = 1.5", "laser.heads must be a whole number"),
        ("[laser]\nheads = {a = 1}", "there is no name 'laser.heads.a'"),
        ("[laser]\nheads = 1" + "0" * 400, "laser.heads must be 0, or from"),
    ],
)
def test_what_can_not_be_used_is_refused_with_its_place(read, tmp_path, content, message):
    with pytest.raises(InputError, match=message) as caught:
        read(content)
    assert str(caught.value).startswith(str(tmp_path / "job.toml"))


@pytest.mark.parametrize("value", ["[1, 2]", "[]", '["a"]', "[[1], [1, 2]]", "[{a = 1}]"])
def test_an_array_for_a_number_is_refused(read, value):
    """A file describes one job: an array would only fail further up the house, with a traceback."""
    with pytest.raises(InputError, match=r"laser\.power_w"):
        read(f"[laser]\npower_w = {value}\n")


def test_a_whole_number_too_long_to_read_is_refused(read):
    """Python refuses to read whole numbers of more than 4,300 digits, with an error of its own."""
    with pytest.raises(EvenrunError):
        read("[laser]\nheads = 1" + "0" * 5000)


def test_tables_within_tables_within_tables_are_refused(read):
    """Python gives up at some depth, with an error of its own."""
    with pytest.raises(InputError, match="nested too deeply"):
        read("a = " + "[" * 100_000)


@pytest.mark.parametrize(
    "content",
    [
        '[laser]\n"he\\nads" = 4\n',
        '[board]\nlaminate = "go\\nld"\n',
        '[laser]\nheads = "fo\\nur"\n',
        '[board]\ngrade = ["a\\nb"]\n',
    ],
)
def test_a_message_stays_in_one_line(read, content):
    """TOML texts may hold line breaks; the command line promises one line on stderr."""
    with pytest.raises(InputError) as caught:
        read(content)
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(FileError, match="there is no such plant file; check the path"):
        read_file(tmp_path / "nowhere.toml", kind="plant")


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(FileError, match="this is a folder, not a job file; name the job file in it"):
        read_file(tmp_path, kind="job")


def test_a_path_through_a_file_is_refused(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError, match="the job file can't be read"):
        read_file(tmp_path / "file" / "job.toml", kind="job")


def test_a_file_that_is_too_large_is_refused(tmp_path):
    """A drawing or a video given by mistake is not read to its end."""
    path = tmp_path / "job.toml"
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(FileError, match="the job file is over 1 MB"):
        read_file(path, kind="job")


def test_a_file_of_one_megabyte_is_read(read):
    assert read(b"#" * 1_000_000).values == {}


# -- settings ---------------------------------------------------------------------------------------------------------


def test_settings_become_numbers_and_texts():
    layer = settings_layer(["laser.heads=4", "plant.country=SE", "rates.waste_board_t=-1e2"])
    assert layer.values == {"laser.heads": 4.0, "plant.country": "SE", "rates.waste_board_t": -100.0}


def test_a_setting_may_have_its_thousands_apart():
    assert settings_layer(["demand.run_length=20_000"]).values == {"demand.run_length": 20_000.0}


def test_the_last_of_two_settings_stands():
    assert settings_layer(["laser.heads=4", "laser.heads=5"]).values == {"laser.heads": 5.0}


def test_a_setting_may_name_keys_of_the_factor_table():
    assert settings_layer(["factors.kwh=uk2025_elec_full"]).values == {"factors.kwh": "uk2025_elec_full"}


def test_an_unknown_setting_names_its_neighbours():
    with pytest.raises(UnknownNameError, match=r"--set: there is no name 'laser.head'; did you mean laser.heads"):
        settings_layer(["laser.head=4"])


def test_a_setting_that_is_no_number_is_refused():
    with pytest.raises(InputError, match=r"--set: laser.heads is 'four', which is not a number"):
        settings_layer(["laser.heads=four"])


def test_values_are_checked_against_their_names():
    with pytest.raises(UnknownNameError, match="form: there is no name"):
        check_values({"no.thing": 1}, where="form")


def test_an_empty_text_takes_back_what_a_weaker_layer_gave():
    """A job of lengths may follow a plant file that names a grade."""
    given = {"board.grade": "", "carton.style": ""}
    assert check_values(given, where="job") == given


def test_an_empty_text_is_no_choice_where_there_is_a_default():
    with pytest.raises(UnknownNameError, match="there is no choice ''"):
        check_values({"sheet.grain": ""}, where="job")
