"""Tool data: lengths of rule by code from XJDF and JDF, and what is said about odd files."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.errors import EvenrunError, FileError, InputError, UnknownNameError
from compare.geometry.strokes import Drawing, Group
from compare.readers.tool_data import read_tool_data

XJDF = "http://www.CIP4.org/JDFSchema_2_0"
JDF = "http://www.CIP4.org/JDFSchema_1_1"
POINT = 25.4 / 72


@pytest.fixture
def read(tmp_path):
    """Write a file and read it as tool data."""

    def reader(content: str | bytes, **options) -> Drawing:
        path = tmp_path / "tool.xml"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_tool_data(path, **options)

    return reader


def xjdf(inside: str, *, element: str = "DieLayout", about: str = "", namespace: str = XJDF) -> str:
    return (
        f'<XJDF xmlns="{namespace}"><ResourceSet><Resource ID="r1"><{element} {about}>{inside}</{element}>'
        "</Resource></ResourceSet></XJDF>"
    )


def rule(code: object, length: object) -> str:
    return f'<RuleLength DDESCutType="{code}" Length="{length}"/>'


def codes(drawing: Drawing) -> dict[str, float]:
    return {group.code: length for group, length in drawing.lengths_by_code.items()}


def finding(drawing: Drawing, code: str) -> str:
    (found,) = [f.message for f in drawing.findings if f.code == code]
    return found


# -- lengths ----------------------------------------------------------------------------------------------------------


def test_lengths_come_by_code_in_millimetres(read):
    """72 points are an inch."""
    assert codes(read(xjdf(rule(101, 72) + rule(7, 144)))) == pytest.approx({"101": 25.4, "7": 50.8})


def test_lengths_of_one_code_add_up(read):
    assert codes(read(xjdf(rule(101, 72) * 3))) == pytest.approx({"101": 76.2})


def test_one_code_written_in_two_ways_is_one(read):
    assert codes(read(xjdf(rule(" 101", 72) + rule("0101", 72)))) == pytest.approx({"101": 50.8})


def test_a_code_that_nobody_documented_keeps_its_number(read):
    drawing = read(xjdf(rule(999, 72)))
    assert list(drawing.lengths_by_code) == [Group("DieLayout", code="999")]


def test_jdf_is_read_like_xjdf(read):
    """JDF has the same elements in another namespace and without the sets around them."""
    inside = f"<ResourcePool><DieLayout ID='d'>{rule(101, 72)}</DieLayout></ResourcePool>"
    assert codes(read(f"<JDF xmlns='{JDF}'>{inside}</JDF>")) == pytest.approx({"101": 25.4})


def test_a_prefix_of_the_namespace_makes_no_difference(read):
    text = f"<x:XJDF xmlns:x='{XJDF}'><x:DieLayout><x:RuleLength DDESCutType='1' Length='72'/></x:DieLayout></x:XJDF>"
    assert codes(read(text)) == pytest.approx({"1": 25.4})


def test_elements_of_another_namespace_are_not_counted(read):
    """A vendor's private part may use the same names for something else."""
    private = "<RuleLength xmlns='urn:private' DDESCutType='101' Length='1000'/>"
    assert codes(read(xjdf(rule(101, 72) + private))) == pytest.approx({"101": 25.4})


def test_nothing_is_drawn(read):
    drawing = read(xjdf(rule(101, 72)))
    assert (len(drawing.strokes), drawing.groups) == (0, ())


def test_the_unit_is_points_and_the_file_need_not_say(read):
    drawing = read(xjdf(rule(101, 72)))
    assert (drawing.unit, drawing.mm_per_unit, drawing.unit_source) == (
        "pt",
        POINT,
        "XJDF and JDF give lengths in points",
    )


def test_a_unit_given_covers_the_points(read):
    """Some writers put millimetres where points belong."""
    drawing = read(xjdf(rule(101, 1200)), unit="mm")
    assert (codes(drawing), drawing.unit, drawing.unit_source) == ({"101": 1200.0}, "mm", "given as mm")


def test_an_unknown_unit_is_refused(read):
    with pytest.raises(UnknownNameError, match="there is no unit 'ell'"):
        read(xjdf(rule(101, 72)), unit="ell")


# -- whose lengths ----------------------------------------------------------------------------------------------------


def test_lengths_of_a_tool_are_said_to_be_of_all_its_stations(read):
    """Taken for one carton they would cost it the whole die."""
    drawing = read(xjdf(rule(101, 72) + "<Station StationName='a'/><Station StationName='b'/>"))
    assert "the whole tool with 2 stations, not of one carton: divide" in finding(drawing, "drawing.whole_tool")


def test_stations_are_counted_by_their_amount(read):
    """JDF 1.x gives a number of equal stations."""
    drawing = read(xjdf(rule(101, 72) + "<Station StationName='a' StationAmount='8'/>", namespace=JDF))
    assert "with 8 stations" in finding(drawing, "drawing.whole_tool")


def test_lengths_of_a_shape_are_of_one_carton(read):
    drawing = read(xjdf(rule(101, 72), element="ShapeDef"))
    assert (list(drawing.lengths_by_code), drawing.findings) == ([Group("ShapeDef", code="101")], ())


def test_a_shape_counts_before_the_tool_that_holds_it(read):
    """Both together would count every rule twice."""
    shape = f"<ShapeDef>{rule(101, 72)}</ShapeDef>"
    drawing = read(f"<XJDF xmlns='{XJDF}'><DieLayout>{rule(101, 720)}</DieLayout>{shape}</XJDF>")
    assert codes(drawing) == pytest.approx({"101": 25.4})
    assert finding(drawing, "drawing.other_tool") == "DieLayout states 254.0 mm as well; it is not counted."


def test_two_tools_are_not_added_up(read):
    """One may be the die and the other a stripping tool: nobody here can know."""
    tools = "".join(f"<DieLayout DescriptiveName='{n}'>{rule(101, 72)}</DieLayout>" for n in "AB")
    with pytest.raises(InputError, match=r"states 2 tools: DieLayout 'A' with 25\.4 mm, DieLayout 'B'"):
        read(f"<XJDF xmlns='{XJDF}'>{tools}</XJDF>")


def test_a_part_without_lengths_of_its_own_is_no_second_tool(read):
    """In JDF a resource may be parted, and its parts stand inside it under the same name."""
    assert codes(read(xjdf(rule(101, 72) + "<DieLayout Side='Front'/>", namespace=JDF))) == pytest.approx({"101": 25.4})


# -- odd files --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "length", ["NaN", "INF", "-INF", "-5", "1e300", "1e99999", "1_000", "0x10", "12,5", "five", ""]
)
def test_a_length_that_cant_be_is_a_finding_and_not_counted(read, length):
    drawing = read(xjdf(rule(101, length) + rule(101, 72)))
    assert codes(drawing) == pytest.approx({"101": 25.4})
    assert f"not counted: '{length}' at code 101" in finding(drawing, "drawing.broken_numbers")


def test_a_missing_length_is_a_finding(read):
    drawing = read(xjdf("<RuleLength DDESCutType='101'/>" + rule(7, 72)))
    assert codes(drawing) == pytest.approx({"7": 25.4})
    assert "not counted: '' at code 101" in finding(drawing, "drawing.broken_numbers")


def test_many_broken_lengths_are_counted_not_listed(read):
    drawing = read(xjdf(rule(101, "NaN") * 5000))
    assert "and 4,990 more" in finding(drawing, "drawing.broken_numbers")
    assert codes(drawing) == {}


def test_a_length_of_nothing_is_a_length(read):
    assert codes(read(xjdf(rule(101, 0)))) == {"101": 0.0}


def test_rule_without_a_code_is_kept_and_said(read):
    drawing = read(xjdf("<RuleLength Length='72'/>"))
    assert codes(drawing) == pytest.approx({"": 25.4})
    assert "25.4 mm of rule have no code" in finding(drawing, "drawing.no_code")


def test_a_file_without_a_namespace_is_read_with_a_finding(read):
    drawing = read(f"<JDF><DieLayout>{rule(101, 72)}</DieLayout></JDF>")
    assert codes(drawing) == pytest.approx({"101": 25.4})
    assert "no namespace" in finding(drawing, "drawing.tolerant")


def test_shapes_drawn_in_the_file_are_counted_as_left_out(read):
    drawing = read(xjdf(rule(101, 72) + "<Shape ShapeType='Path' CutPath='0 0 m 1 1 l'/>" * 3, element="ShapeDef"))
    assert drawing.left_out == {"Shape": 3}
    assert "3 shapes are drawn" in finding(drawing, "drawing.left_out")


def test_the_box_of_a_tool_is_said(read):
    drawing = read(xjdf(rule(101, 72), about='CutBox="0 0 720 1440"'))
    assert finding(drawing, "drawing.stated_box") == "The file states a box of 254.0 x 508.0 mm for DieLayout 'r1'."


@pytest.mark.parametrize("box", ["", "0 0 720", "0 0 NaN 5", "5 5 1 1", "a b c d", "0 0 1e300 5"])
def test_a_box_that_is_none_is_passed_over(read, box):
    drawing = read(xjdf(rule(101, 72), about=f'CutBox="{box}"', element="ShapeDef"))
    assert drawing.findings == ()


@pytest.mark.parametrize(
    ("content", "error", "message"),
    [
        (xjdf(""), InputError, "states no lengths of rule"),
        ("<html><body/></html>", InputError, "<html> is neither XJDF nor JDF"),
        (f"<JDF xmlns='{JDF}'><RuleLength DDESCutType='1' Length='1'/></JDF>", InputError, "states no lengths of rule"),
        ("", FileError, "is no XML: no element found"),
        ("no xml", FileError, "is no XML: syntax error"),
        (xjdf(rule(101, 72))[:-10], FileError, "is no XML"),
        (b"<?xml version='1.0' encoding='nobody'?><a/>", FileError, "tool data"),
        ("<a>" * 1000, InputError, "nested over 200 deep"),
        (xjdf("".join(rule(n, 1) for n in range(2000))), InputError, "over 1,000 codes"),
        (f"<JDF xmlns='{JDF}'>{f'<DieLayout>{rule(1, 1)}</DieLayout>' * 1200}</JDF>", InputError, "over 1,000 tools"),
    ],
)
def test_what_cant_be_used_is_said_in_one_line(read, content, error, message):
    with pytest.raises(error, match=message) as caught:
        read(content)
    assert str(caught.value).startswith("tool.xml: ")


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(FileError, match=r"none\.xml: the tool data can't be read"):
        read_tool_data(tmp_path / "none.xml")


def test_sixteen_bit_text_is_read(read):
    """XML may come in it, and some systems write it."""
    text = '<?xml version="1.0" encoding="UTF-16"?>' + xjdf(rule(101, 72))
    assert codes(read(text.encode("utf-16"))) == pytest.approx({"101": 25.4})


# -- hostile files ----------------------------------------------------------------------------------------------------

_BOMB = "<!ENTITY a 'ha'>" + "".join(f"<!ENTITY {b} '{f'&{a};' * 10}'>" for a, b in zip("abcdefghi", "bcdefghij"))  # noqa: B905


@pytest.mark.parametrize(
    "doctype",
    [
        f"<!DOCTYPE XJDF [{_BOMB}]>",
        "<!DOCTYPE XJDF SYSTEM 'http://example.invalid/x.dtd'>",
        "<!DOCTYPE XJDF [<!ENTITY a SYSTEM 'file:///etc/hostname'>]>",
        "<!DOCTYPE XJDF [<!ENTITY % p SYSTEM 'file:///etc/hostname'> %p;]>",
        "<!DOCTYPE XJDF>",
    ],
    ids=["bomb", "network", "file", "parameter", "plain"],
)
def test_a_doctype_is_refused_whatever_it_declares(read, doctype):
    """Entities that grow, fetch or read files all come in by it, and tool data never has one."""
    with pytest.raises(InputError, match="has a DOCTYPE, which tool data never has; take the DOCTYPE out"):
        read(doctype + xjdf(rule("&a;" if "ENTITY a" in doctype else 101, 72)))


def test_a_file_cut_off_anywhere_is_an_error_of_our_own(read):
    text = xjdf("".join(rule(n, n * 1.5) for n in range(100, 400)))
    for end in range(0, len(text), 1000):
        with pytest.raises(FileError, match="is no XML"):
            read(text[:end])


def test_a_file_that_grows_while_it_is_read_is_stopped(read, monkeypatch):
    """Its size was looked at before; a pipe in its place would have none."""
    monkeypatch.setattr("compare.readers.tool_data._MAX_BYTES", 100_000)
    with pytest.raises(FileError, match="over 50 MB"):
        read(xjdf(rule(101, 72) * 10_000))


_SEED = xjdf(rule(101, 72) + rule(7, 144.5) + "<Station StationName='a'/>", about='CutBox="0 0 720 1440"').encode()


@given(st.lists(st.tuples(st.integers(0, len(_SEED) - 1), st.binary(max_size=6)), min_size=1, max_size=6))
@settings(max_examples=400, derandomize=True)
def test_a_file_changed_anywhere_gives_lengths_or_an_error_of_our_own(tmp_path_factory, changes):
    """A longer run: raise ``max_examples`` to 100,000 and drop ``derandomize``; it takes some minutes."""
    path = tmp_path_factory.getbasetemp() / "fuzz.xml"
    raw = bytearray(_SEED)
    for place, new in changes:
        raw[place : place + len(new)] = new
    path.write_bytes(raw)
    try:
        drawing = read_tool_data(path)
    except EvenrunError:
        return
    assert all(0 <= length <= 1e10 for length in drawing.lengths_by_code.values())
