"""SVG files: what is drawn and what is left out, exact pieces, layers, styles, scale, and files meant to do harm."""

from __future__ import annotations

import math

import numpy as np
import pytest

from compare.errors import FileError, InputError
from compare.geometry.strokes import ARC, CUBIC, LINE, Group
from compare.readers import svg
from compare.readers.svg import read_svg

NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
MM = 'width="100mm" height="100mm" viewBox="0 0 100 100"'


@pytest.fixture
def read(tmp_path):
    """Read a text as an SVG file."""

    def reader(text: str | bytes, unit: str | None = None):
        path = tmp_path / "tray.svg"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_svg(path, unit=unit)

    return reader


@pytest.fixture
def draw(read):
    """Read shapes that stand in an SVG of 100 x 100 mm, a user unit being a millimetre, with a black stroke."""

    def drawer(shapes: str, head: str = MM, unit: str | None = None):
        return read(f'<svg {NS} {head} stroke="black" fill="none">{shapes}</svg>', unit)

    return drawer


def length(drawing) -> float:
    """Length of all strokes in the unit of the drawing."""
    return float(drawing.strokes.lengths().sum())


def by_layer(drawing) -> dict[str, float]:
    """Length of the strokes of each layer."""
    of_piece = drawing.strokes.group[drawing.strokes.stroke]
    lengths = drawing.strokes.lengths()
    found: dict[str, float] = {}
    for n, group in enumerate(drawing.groups):
        found[group.layer] = found.get(group.layer, 0.0) + float(lengths[of_piece == n].sum())
    return found


def codes(drawing) -> list[str]:
    return [finding.code for finding in drawing.findings]


def message(drawing, code: str) -> str:
    return next(finding.message for finding in drawing.findings if finding.code == code)


# -- pieces -----------------------------------------------------------------------------------------------------------


def test_a_straight_path_is_made_of_lines(draw):
    drawing = draw('<path d="M0 0 H30 V40 Z"/>')
    assert drawing.strokes.kind.tolist() == [LINE] * 3
    assert length(drawing) == pytest.approx(120, rel=1e-12)


def test_an_arc_stays_an_arc(draw):
    """An arc broken into chords would lose radius and length."""
    drawing = draw('<path d="M10 50 A40 40 0 0 1 90 50"/>')
    assert drawing.strokes.kind.tolist() == [ARC]
    assert drawing.strokes.radii()[0] == pytest.approx(40, rel=1e-12)
    assert length(drawing) == pytest.approx(40 * math.pi, rel=1e-12)


@pytest.mark.parametrize(
    ("flags", "turn", "centre", "way"),
    [("0 0", 90, 20, -1), ("0 1", 90, 0, 1), ("1 0", 270, 0, -1), ("1 1", 270, 20, 1)],
)
def test_the_flags_of_an_arc_choose_one_of_four(draw, flags, turn, centre, way):
    """From (20, 0) to (0, 20) around the origin or (20, 20); by its middle, which lies on the diagonal of the file."""
    strokes = draw(f'<path d="M20 0 A20 20 0 {flags} 0 20"/>').strokes
    middle = centre + way * 20 * math.sqrt(0.5)
    assert strokes.lengths()[0] == pytest.approx(math.radians(turn) * 20, rel=1e-12)
    assert strokes.at(0.5)[0] == pytest.approx((middle, 100 - middle), abs=1e-9)
    assert strokes.at(1.0)[0] == pytest.approx((0, 80), abs=1e-9)


def test_the_flags_of_an_arc_need_no_space_after_them(draw):
    """Programs that save bytes write ``01`` for two flags."""
    assert length(draw('<path d="M20 0a20 20 0 01-20 20"/>')) == pytest.approx(10 * math.pi, rel=1e-12)


def test_radii_too_short_for_their_chord_grow_until_they_reach(draw):
    assert length(draw('<path d="M0 0 A1 1 0 0 1 40 0"/>')) == pytest.approx(20 * math.pi, rel=1e-12)


def test_an_arc_without_a_radius_is_a_line(draw):
    assert draw('<path d="M0 0 A0 5 0 0 1 40 0"/>').strokes.kind.tolist() == [LINE]


def test_an_arc_that_ends_where_it_began_is_nothing(draw):
    assert len(draw('<path d="M0 0 A5 5 0 1 1 0 0"/>').strokes) == 0


def test_half_a_turn_keeps_its_length_wherever_it_lies(draw):
    """The angle between the ends, taken by an arc cosine, is good to eight digits only at half a turn."""
    for turn in range(0, 360, 7):
        x, y = 20 * math.cos(math.radians(turn)), 20 * math.sin(math.radians(turn))
        drawing = draw(f'<path transform="rotate({turn})" d="M-20 0 A20 20 0 0 1 20 0"/>')
        assert length(drawing) == pytest.approx(20 * math.pi, rel=1e-12)
        drawing = draw(f'<path d="M{-x!r} {-y!r} A20 20 0 0 1 {x!r} {y!r}"/>')
        assert length(drawing) == pytest.approx(20 * math.pi, rel=5e-8)


def test_a_circle_is_one_arc_also_when_stretched(draw):
    """An ellipse of half axes 20 and 10 has the perimeter of ten times that of 2 and 1."""
    drawing = draw('<circle r="10" transform="translate(50 50) rotate(30) scale(2 1)"/>')
    assert drawing.strokes.kind.tolist() == [ARC]
    assert length(drawing) == pytest.approx(96.88448220548, rel=1e-10)


def test_a_quadratic_curve_is_raised_to_a_cubic_one_without_loss(draw):
    drawing = draw('<path d="M0 0 Q20 40 60 0"/>')
    t = np.linspace(0, 1, 11)
    x, y = 2 * t * (1 - t) * 20 + t * t * 60, 100 - 2 * t * (1 - t) * 40
    found = np.array([drawing.strokes.at(share)[0] for share in t])
    assert drawing.strokes.kind.tolist() == [CUBIC]
    assert np.abs(found - np.column_stack([x, y])).max() < 1e-12


@pytest.mark.parametrize(
    ("short", "full"),
    [
        ("M0 0 C0 10 10 10 10 0 S20 -10 20 0", "M0 0 C0 10 10 10 10 0 C10 -10 20 -10 20 0"),
        ("M0 0 Q5 10 10 0 T20 0", "M0 0 Q5 10 10 0 Q15 -10 20 0"),
        ("M0 0 L10 0 S20 10 30 0", "M0 0 L10 0 C10 0 20 10 30 0"),
        ("m5 5 l10 0 0 10 z m20 0 l5 5", "M5 5 L15 5 L15 15 Z M25 5 L30 10"),
        ("M0 0h10v-5h-10z", "M0 0 L10 0 L10 -5 L0 -5 Z"),
        ("M 10. 20. L 30. 40.", "M10 20 L30 40"),
        ("M0,0 .5.5 1e1-2E0", "M0 0 L0.5 0.5 L10 -2"),
    ],
)
def test_short_ways_to_write_a_path_give_the_same_pieces(draw, short, full):
    a, b = draw(f'<path d="{short}"/>').strokes, draw(f'<path d="{full}"/>').strokes
    assert a.kind.tolist() == b.kind.tolist()
    assert a.stroke.tolist() == b.stroke.tolist()
    assert np.abs(a.data - b.data).max() < 1e-12


def test_each_move_begins_a_stroke(draw):
    drawing = draw('<path d="M0 0 L10 0 M0 10 L10 10 L20 10"/>')
    assert drawing.strokes.stroke.tolist() == [0, 1, 1]


def test_a_path_that_is_closed_at_its_first_point_gets_no_line_of_no_length(draw):
    assert len(draw('<path d="M0 0 L10 0 L10 10 L0 0 Z"/>').strokes) == 3


def test_a_rounded_rectangle_is_four_lines_and_four_quarters(draw):
    drawing = draw('<rect x="10" y="10" width="60" height="40" rx="5"/>')
    assert sorted(drawing.strokes.kind.tolist()) == [LINE] * 4 + [ARC] * 4
    assert length(drawing) == pytest.approx(2 * 50 + 2 * 30 + 10 * math.pi, rel=1e-12)


def test_the_corners_of_a_rounded_rectangle_meet_its_sides(draw):
    strokes = draw('<rect x="10" y="10" width="60" height="40" rx="5" ry="8"/>').strokes
    assert np.abs(strokes.at(1.0) - np.roll(strokes.at(0.0), -1, axis=0)).max() < 1e-12


def test_a_radius_of_a_rectangle_is_at_most_half_its_side(draw):
    assert length(draw('<rect width="40" height="40" rx="99"/>')) == pytest.approx(40 * math.pi, rel=1e-12)


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        ('<line x1="0" y1="0" x2="30" y2="40"/>', 50),
        ('<polyline points="0,0 30,0 30,40"/>', 70),
        ('<polygon points="0,0 30,0 30,40"/>', 120),
        ('<rect width="30" height="40"/>', 140),
        ('<ellipse cx="50" cy="50" rx="20" ry="20"/>', 40 * math.pi),
        ('<line x2="10%" y2="0"/>', 10),
        ('<circle r="10%"/>', 20 * math.pi),
    ],
)
def test_basic_shapes_have_their_lengths(draw, shape, expected):
    assert length(draw(shape)) == pytest.approx(expected, rel=1e-12)


def test_y_is_upwards_in_the_drawing(draw):
    """In the file it is downwards."""
    assert draw('<line x1="0" y1="10" x2="30" y2="10"/>').strokes.data[0, :4].tolist() == [0, 90, 30, 90]


def test_transforms_are_done_from_the_inside_outwards(draw):
    drawing = draw('<g transform="translate(10 0)"><line x2="10" transform="scale(3) translate(5 0)"/></g>')
    assert drawing.strokes.data[0, [0, 2]].tolist() == [25, 55]


def test_the_place_of_a_stroke_names_its_element(draw):
    drawing = draw('<line id="flap" x2="5"/>\n<line x2="6"/>')
    assert drawing.strokes.place == ("line 'flap'", "line, line 2")


# -- what is drawn ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "as_what"),
    [
        ('<rect width="9" height="9" stroke="none" fill="red"/>', "fill only"),
        ('<rect width="9" height="9" stroke="none"/>', "unpainted"),
        ('<rect width="9" height="9" stroke="transparent"/>', "unpainted"),
        ('<rect width="9" height="9" stroke-width="0"/>', "stroke of no width"),
        ('<rect width="9" height="9" visibility="hidden"/>', "hidden"),
        ('<g display="none"><rect width="9" height="9"/></g>', "hidden"),
        ('<g opacity="0"><rect width="9" height="9"/></g>', "hidden"),
        ('<g style="display:none"><rect width="9" height="9"/></g>', "hidden"),
        ('<defs><rect width="9" height="9"/></defs>', "definition"),
        ('<clipPath><rect width="9" height="9"/></clipPath>', "definition"),
        ('<marker><rect width="9" height="9"/></marker>', "definition"),
        ('<symbol><rect width="9" height="9"/></symbol>', "definition"),
        ("<text>knife</text>", "text"),
        ('<image href="a.png"/>', "image"),
    ],
)
def test_what_is_no_stroke_is_left_out_and_counted(draw, shape, as_what):
    drawing = draw('<line x2="10"/>' + shape)
    assert length(drawing) == pytest.approx(10)
    assert drawing.left_out == {as_what: 1}


def test_hidden_elements_are_told(draw):
    assert "1 elements are hidden" in message(draw('<line x2="9" display="none"/>'), "drawing.hidden")


def test_a_visible_element_in_a_hidden_group_is_drawn(draw):
    """Visibility is inherited and may be taken back; ``display: none`` may not."""
    assert length(draw('<g visibility="hidden"><line x2="10" visibility="visible"/></g>')) == pytest.approx(10)
    assert length(draw('<g display="none"><line x2="10" display="inline"/></g>')) == 0


def test_clipped_shapes_count_whole_and_are_told(draw):
    drawing = draw('<g clip-path="url(#c)"><line x2="10"/></g>')
    assert length(drawing) == pytest.approx(10)
    assert "1 shapes are clipped" in message(drawing, "drawing.clipped")


def test_the_first_alternative_of_a_switch_is_drawn_and_no_other(draw):
    """Drawing programs wrap a whole drawing so, their own data being the other alternative."""
    switch = '<switch><foreignObject requiredExtensions="x"/><g><line x2="10"/></g><g><line x2="20"/></g></switch>'
    assert length(draw(switch)) == pytest.approx(10)


def test_a_drawing_without_strokes_says_what_is_there_instead(draw):
    drawing = draw('<rect width="9" height="9" stroke="none" fill="red"/>')
    assert "1 fill only" in message(drawing, "drawing.no_lines")


# -- use --------------------------------------------------------------------------------------------------------------


def test_every_use_of_a_definition_is_drawn(draw):
    drawing = draw('<defs><line id="a" x2="10"/></defs><use href="#a"/><use xlink:href="#a" x="5" y="5"/>')
    assert length(drawing) == pytest.approx(20)
    assert drawing.strokes.data[1, :4].tolist() == [5, 95, 15, 95]
    assert drawing.left_out == {}


def test_a_use_hands_its_style_to_what_it_uses(draw):
    drawing = draw('<defs><line id="a" x2="10" stroke="inherit"/></defs><use href="#a" stroke="#ff0000"/>')
    assert [group.colour for group in drawing.groups] == ["#ff0000"]


def test_a_symbol_is_fitted_into_the_size_of_its_use(draw):
    symbol = '<symbol id="s" viewBox="0 0 10 10"><line x2="10"/></symbol><use href="#s" width="30" height="50"/>'
    assert length(draw(symbol)) == pytest.approx(30)


def test_a_nested_viewport_scales_by_its_smaller_side(draw):
    drawing = draw('<svg x="10" y="10" width="20" height="40" viewBox="0 0 10 10"><line x2="10"/></svg>')
    assert drawing.strokes.data[0, :4] == pytest.approx([10, 80, 30, 80])


def test_an_element_that_uses_itself_is_left_out_and_told(draw):
    drawing = draw('<g id="a"><line x2="10"/><use href="#a"/></g>')
    assert length(drawing) == pytest.approx(10)
    assert "drawing.loop" in codes(drawing)


def test_two_elements_that_use_each_other_come_to_an_end(draw):
    drawing = draw('<defs><g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g></defs><use href="#a"/>')
    assert "drawing.loop" in codes(drawing)


def test_a_use_of_something_outside_the_file_is_not_followed(draw, tmp_path):
    (tmp_path / "other.svg").write_text(f'<svg {NS}><line id="a" x2="10" stroke="red"/></svg>')
    drawing = draw('<use href="other.svg#a"/>')
    assert len(drawing.strokes) == 0
    assert "drawing.external" in codes(drawing)


def test_a_tree_of_uses_stops_at_the_limit(draw, monkeypatch):
    """Twelve lines of text that stand for ten billion lines."""
    monkeypatch.setattr(svg, "MOST_ELEMENTS", 5_000)
    tree = "".join(f'<g id="a{n + 1}">' + f'<use href="#a{n}"/>' * 10 + "</g>" for n in range(10))
    with pytest.raises(InputError, match="5,000 elements"):
        draw(f'<defs><line id="a0" x2="1"/>{tree}</defs><use href="#a10"/>')


def test_a_chain_of_uses_stops_at_the_limit(draw):
    chain = "".join(f'<g id="a{n + 1}"><use href="#a{n}"/></g>' for n in range(40))
    with pytest.raises(InputError, match="more than 32 deep"):
        draw(f'<defs><line id="a0" x2="1"/>{chain}</defs><use href="#a40"/>')


# -- groups -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shapes", "layer"),
    [
        ('<line x2="9"/>', ""),
        ('<g id="knife"><line x2="9"/></g>', "knife"),
        ('<g id="knife"><g id="slots"><line x2="9"/></g></g>', "knife / slots"),
        ('<g id="knife"><g id="g1234"><line x2="9"/></g></g>', "knife"),
        ('<g id="layer1" x:label="Cut 1"><g id="inner"><line x2="9"/></g></g>', "Cut 1"),
        ('<g x:groupmode="layer" x:label="Cut"><g x:label="flap"><line x2="9"/></g></g>', "Cut"),
        (
            '<g x:groupmode="layer" x:label="Die"><g x:groupmode="layer" x:label="Crease"><line x2="9"/></g></g>',
            "Die / Crease",
        ),
        ('<g id="a_1" data-name="Cut"><line x2="9"/></g>', "Cut"),
        ('<g id="knife"><line id="l1" x2="9"/></g>', "knife"),
    ],
)
def test_the_layer_is_the_name_of_the_groups_around(draw, shapes, layer):
    """Layers say most, then labels, then ids that somebody chose; a name made up by a program says nothing."""
    drawing = draw(shapes, MM + ' xmlns:x="urn:editor"')
    assert [group.layer for group in drawing.groups] == [layer]


def test_lines_of_one_layer_are_apart_by_colour_and_dash(draw):
    drawing = draw('<line x2="9"/><line x2="9" stroke="#F00"/><line x2="9" stroke-dasharray="4, 2"/>')
    assert drawing.groups == (Group("", "#000000"), Group("", "#ff0000"), Group("", "#000000", "4 2"))


@pytest.mark.parametrize(
    ("stroke", "colour"),
    [
        ("red", "#ff0000"),
        ("#0a0", "#00aa00"),
        ("rgb(1, 2, 3)", "#010203"),
        ("currentColor", "#0000ff"),
        ("url(#gradient)", ""),
    ],
)
def test_a_colour_may_be_written_in_several_ways(draw, stroke, colour):
    assert draw(f'<line x2="9" color="blue" stroke="{stroke}"/>').groups[0].colour == colour


# -- style sheets -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sheet", "colour"),
    [
        (".cut {stroke: #ff0000}", "#ff0000"),
        ("line {stroke: #ff0000} .other {stroke: #00ff00}", "#ff0000"),
        (".cut {stroke: #ff0000} line {stroke: #00ff00}", "#ff0000"),
        ("#one {stroke: #ff0000} .cut {stroke: #00ff00}", "#ff0000"),
        (".cut {stroke: #00ff00} .cut {stroke: #ff0000}", "#ff0000"),
        ("line {stroke: #ff0000 !important} #one {stroke: #00ff00}", "#ff0000"),
        ("g line {stroke: #ff0000}", "#ff0000"),
        ("svg > g > line {stroke: #ff0000}", "#ff0000"),
        ("svg > line {stroke: #ff0000}", "#000000"),
        ("text, line.cut {stroke: #ff0000}", "#ff0000"),
        ("/* .cut {stroke: #00ff00} */ .cut {stroke: #ff0000}", "#ff0000"),
        ("@media print {.cut {stroke: #00ff00}} line {stroke: #ff0000}", "#ff0000"),
        ("@import url(x.css); .cut {stroke: #ff0000}", "#ff0000"),
    ],
)
def test_a_style_sheet_is_followed(draw, sheet, colour):
    """The stronger selector wins, then the later one; a sheet is stronger than a plain attribute."""
    shape = '<g><line id="one" class="thin cut" x2="9" stroke="#000000"/></g>'
    assert draw(f"<style>{sheet.replace('>', '&gt;')}</style>{shape}").groups[0].colour == colour


def test_a_style_attribute_is_stronger_than_a_style_sheet(draw):
    shapes = '<style>line {stroke: lime}</style><line x2="9" style="stroke:#ff0000"/>'
    assert draw(shapes).groups[0].colour == "#ff0000"


def test_a_class_may_hide(draw):
    assert length(draw('<style>.off {display: none}</style><line x2="9" class="off"/>')) == 0


def test_selectors_that_are_not_followed_are_told(draw):
    drawing = draw('<style>line[x2="9"] {stroke: red}</style><line x2="9"/>')
    assert """'line[x2="9"]'""" in message(drawing, "drawing.style")


# -- scale ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "unit", "expected"),
    [
        ('width="200mm" height="200mm" viewBox="0 0 100 100"', "mm", 20.0),
        ('width="10cm" height="10cm" viewBox="0 0 100 100"', "cm", 10.0),
        ('width="1in" height="1in" viewBox="0 0 10 10"', "in", 25.4),
        ('width="72pt" height="72pt" viewBox="0 0 10 10"', "pt", 25.4),
        ('width="100mm" height="50mm" viewBox="0 0 100 100"', "mm", 5.0),
        ('width="100mm" height="50mm" viewBox="0 0 100 100" preserveAspectRatio="none"', "mm", 10.0),
        ('width="100mm" height="50mm" viewBox="0 0 100 100" preserveAspectRatio="xMidYMid slice"', "mm", 10.0),
        ('width="100mm" viewBox="0 0 50 50"', "mm", 20.0),
        ('width="100%" height="100mm" viewBox="0 0 50 50"', "mm", 20.0),
    ],
)
def test_a_physical_size_with_a_view_box_gives_the_scale(draw, head, unit, expected):
    """A line of 10 user units; the smaller of both scales holds, unless the file wants it otherwise."""
    drawing = draw('<line x2="10"/>', head)
    assert drawing.unit == unit
    assert length(drawing) * drawing.mm_per_unit == pytest.approx(expected, rel=1e-12)
    assert "drawing.no_unit" not in codes(drawing)


@pytest.mark.parametrize(
    "head",
    [
        "",
        'width="100%" height="100%" viewBox="0 0 100 100"',
        'width="744.0945" height="1052.3622"',
        'width="744.0945px" height="1052.3622px"',
        'width="10em" height="10em" viewBox="0 0 100 100"',
        'viewBox="0 0 100 100"',
    ],
)
def test_a_file_without_a_physical_size_is_asked_about(draw, head):
    drawing = draw('<line x2="10"/>', head)
    assert (drawing.unit, drawing.mm_per_unit, drawing.unit_source) == (None, None, "the file does not say")
    assert "px96 or px90" in message(drawing, "drawing.no_unit")


def test_a_physical_size_without_a_view_box_is_taken_at_96_to_the_inch_and_told(draw):
    """The standard says so: user units are pixels then."""
    drawing = draw('<line x2="96"/>', 'width="210mm" height="297mm"')
    assert length(drawing) * drawing.mm_per_unit == pytest.approx(25.4, rel=1e-12)
    assert "drawing.no_viewbox" in codes(drawing)


@pytest.mark.parametrize(
    ("unit", "expected"),
    [("mm", 10.0), ("in", 254.0), ("cm", 100.0), ("px96", 254 / 96), ("px90", 254 / 90)],
)
def test_a_stated_unit_holds(draw, unit, expected):
    drawing = draw('<line x2="10"/>', 'width="100%" viewBox="0 0 100 100"', unit)
    assert length(drawing) * drawing.mm_per_unit == pytest.approx(expected, rel=1e-12)
    assert drawing.unit == unit
    assert drawing.unit_source.startswith("stated")
    assert "drawing.no_unit" not in codes(drawing)


def test_a_stated_unit_overrides_what_the_file_says(draw):
    """One user unit is that, whatever the size of the page."""
    drawing = draw('<line x2="10"/>', 'width="200mm" height="200mm" viewBox="0 0 100 100"', "in")
    assert length(drawing) * drawing.mm_per_unit == pytest.approx(254, rel=1e-12)


def test_stated_pixels_are_those_of_the_page_not_those_of_the_view_box(draw):
    drawing = draw('<line x2="10"/>', 'width="200" height="200" viewBox="0 0 100 100"', "px96")
    assert length(drawing) * drawing.mm_per_unit == pytest.approx(20 * 25.4 / 96, rel=1e-12)


def test_an_unknown_unit_is_refused(draw):
    with pytest.raises(InputError, match="no unit 'parsec'"):
        draw("", unit="parsec")


def test_a_length_with_a_unit_inside_the_drawing_is_96_pixels_to_the_inch(draw):
    drawing = draw('<line x2="1in"/>', 'width="96px" height="96px"', "px96")
    assert length(drawing) * drawing.mm_per_unit == pytest.approx(25.4, rel=1e-12)


# -- files ------------------------------------------------------------------------------------------------------------


def test_a_comment_with_two_hyphens_is_read_with_a_finding(draw):
    """Not well formed, and found in real files."""
    drawing = draw('<!-- cut -- 0.3 mm --><line x2="10"/>')
    assert length(drawing) == pytest.approx(10)
    assert "line 1" in message(drawing, "drawing.not_well_formed")


def test_a_file_that_ends_too_early_is_read_as_far_as_it_goes(read):
    drawing = read(f'<svg {NS} {MM} stroke="red"><line x2="10"/><line x2="')
    assert length(drawing) == pytest.approx(10)
    assert "drawing.not_well_formed" in codes(drawing)


@pytest.mark.parametrize("text", ["", "nothing", "<html/>", '{"svg": 1}', b"\x00\x01\x02", b"\xff\xfe<\x00"])
def test_what_is_no_svg_is_refused(read, text):
    with pytest.raises(FileError, match="no SVG"):
        read(text)


def test_a_file_that_is_not_there_is_an_error_with_its_place(tmp_path):
    with pytest.raises(FileError, match=r"none\.svg"):
        read_svg(tmp_path / "none.svg")


def test_a_file_beyond_the_limit_is_refused(read, monkeypatch):
    monkeypatch.setattr(svg, "MOST_BYTES", 1_000_000)
    with pytest.raises(FileError, match="more than 1 MB"):
        read(b" " * 1_000_001)


def test_a_file_without_the_name_space_is_read(read):
    assert length(read(f'<svg {MM}><line x2="10" stroke="red"/></svg>')) == pytest.approx(10)


def test_a_utf_16_file_is_read(read):
    text = f'<?xml version="1.0" encoding="UTF-16"?><svg {NS} {MM}><line x2="10" stroke="red"/></svg>'
    assert length(read(text.encode("utf-16"))) == pytest.approx(10)


def test_an_entity_that_names_a_name_space_is_read(read):
    """Drawing programs write their name spaces so."""
    text = (
        '<!DOCTYPE svg [<!ENTITY s "http://www.w3.org/2000/svg">]><svg xmlns="&s;"><line x2="10" stroke="red"/></svg>'
    )
    assert length(read(text)) == pytest.approx(10)


def test_an_entity_bomb_is_refused(read):
    """A few lines that stand for a billion; also where the library's own limit would let it pass."""
    for levels in (2, 9):
        inner = "".join(f'<!ENTITY a{n + 1} "{f"&a{n};" * 10}">' for n in range(levels))
        text = f'<!DOCTYPE svg [<!ENTITY a0 "x">{inner}]><svg {NS} id="&a{levels};"/>'
        with pytest.raises(FileError, match="entit"):
            read(text)


def test_entities_that_hold_one_another_are_refused(read):
    with pytest.raises(FileError, match="entity"):
        read(f'<!DOCTYPE svg [<!ENTITY a "&b;"><!ENTITY b "&a;">]><svg {NS} id="&a;"/>')


def test_no_file_is_opened_through_an_entity(read, tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("kept")
    text = f'<!DOCTYPE svg [<!ENTITY a SYSTEM "{secret.as_uri()}">]><svg {NS} {MM}><g id="x">&a;</g></svg>'
    drawing = read(text)
    assert "drawing.external" in codes(drawing)
    assert "kept" not in repr(drawing)


def test_elements_nested_beyond_the_limit_are_refused(read):
    with pytest.raises(FileError, match="beyond any limit"):
        read(f"<svg {NS}>" + "<g>" * 3000 + "</g>" * 3000 + "</svg>")


@pytest.mark.parametrize(
    "shape",
    [
        '<line x2="nan"/>',
        '<line x2="1e999"/>',
        '<path d="M0 0 L1e999 0"/>',
        '<path d="M0 0 L5 oops"/>',
        '<path d="L5 5"/>',
        '<path d="M0 0 A5 5 0 2 2 10 0"/>',
        '<circle r="-3"/>',
        '<rect width="-3" height="5"/>',
        '<polyline points="0 0 5 5 x"/>',
        '<line x2="5" transform="rotate(1e999)"/>',
        '<line x2="5" transform="scale(1e300) scale(1e300)"/>',
        '<line x2="5em"/>',
    ],
)
def test_numbers_that_can_not_be_read_are_told_and_the_rest_is_drawn(draw, shape):
    drawing = draw('<line x2="10"/>' + shape)
    assert np.isfinite(drawing.strokes.data).all()
    assert by_layer(drawing)[""] >= 10
    assert "drawing.broken_numbers" in codes(drawing)


def test_a_path_is_drawn_up_to_its_first_fault(draw):
    """The standard wants it so."""
    assert length(draw('<path d="M0 0 L10 0 L10 10 Lx"/>')) == pytest.approx(20)


def test_reading_takes_time_in_proportion_on_texts_that_invite_backtracking(draw):
    """Each of these takes hours if a pattern looks back over what it has seen; the test then never ends."""
    long = 300_000
    drawing = draw(
        f'<style>{"/*" * long}</style><style>{"a" * long}</style><path d="{"1" * long}"/>'
        f'<line x2="9" transform="{"matrix(" * long}"/><line x2="9" stroke="rgb({"1" * long}"/>'
        + "<g>" * 100
        + '<style>z g g g g g g line {stroke: red}</style><line x2="10"/>'
        + "</g>" * 100
    )
    assert length(drawing) == pytest.approx(28)
