"""PDF pages: the graphics state, layers and steps, forms, colours, what is left out, and files meant to do harm."""

from __future__ import annotations

import math
import zlib

import numpy as np
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String

from compare.errors import FileError, InputError
from compare.geometry.strokes import CUBIC, LINE, Group
from compare.readers import pdf_content
from compare.readers.pdf import read_pdf

PT = 25.4 / 72


class Paper:
    """A PDF of one page under construction."""

    def __init__(self, path) -> None:
        self.pdf = pikepdf.new()
        self.pdf.add_blank_page(page_size=(500, 500))
        self.page = self.pdf.pages[0].obj
        self.path = path

    def layer(self, name: str, group: str = "", kind: str = "") -> Dictionary:
        """Make an optional content group, a processing step if one is given."""
        made = Dictionary(Type=Name.OCG, Name=String(name))
        if group:
            made.GTS_Metadata = Dictionary(GTS_ProcStepsGroup=Name("/" + group))
        if kind:
            made.GTS_Metadata.GTS_ProcStepsType = Name("/" + kind)
        made = self.pdf.make_indirect(made)
        if "/OCProperties" not in self.pdf.Root:
            self.pdf.Root.OCProperties = Dictionary(OCGs=Array(), D=Dictionary())
        self.pdf.Root.OCProperties.OCGs.append(made)
        return made

    def form(self, content: bytes, **entries) -> pikepdf.Stream:
        """Make a form."""
        made = self.pdf.make_stream(content, Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 500, 500])
        for key, value in entries.items():
            made[Name("/" + key)] = value
        return made

    def draw(self, content: bytes, unit: str | None = None, **resources):
        """Save the page with a content and its resources, and read it."""
        self.page.Contents = self.pdf.make_stream(content)
        self.page.Resources = Dictionary(**resources)
        return self.read(unit)

    def read(self, unit: str | None = None, **saving):
        self.pdf.save(self.path, **saving)
        return read_pdf(self.path, unit=unit)


@pytest.fixture
def paper(tmp_path):
    return Paper(tmp_path / "tray.pdf")


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


def finding(drawing, code: str):
    return next(found for found in drawing.findings if found.code == code)


# -- paths ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"0 0 m 30 40 l S", 50),
        (b"10 10 30 40 re S", 140),
        (b"0 0 m 30 0 l 30 40 l S", 70),
        (b"0 0 m 30 0 l 30 40 l s", 120),
        (b"0 0 m 30 0 l 30 40 l h S", 120),
        (b"0 0 m 30 0 l 30 40 l b", 120),
        (b"0 0 m 30 0 l 30 40 l b*", 120),
        (b"0 0 m 30 0 l 30 40 l B", 70),
        (b"0 0 m 30 0 l 30 40 l B*", 70),
        (b"0 0 m 30 0 l 0 10 m 30 10 l S", 60),
        (b"0 0 m 0 0 10 10 10 10 c S", 10 * math.sqrt(2)),
        (b"0 0 m 30 0 l h 0 10 l S", 70),
        (b"1 0 0 1 5 5 cm 2 0 0 2 0 0 cm 0 0 m 10 0 l S", 20),
        (b"0.5 0 0 -0.5 0 100 cm 0 0 m +30. -40. l S", 25),
        (b"0 0 m % a remark\n30 40 l S", 50),
        (b"(a text (with) \\) brackets) Tj 0 0 m 30 40 l S", 50),
        (b"<414243> Tj /A <</B [(x) 1]>> DP 0 0 m 30 40 l S", 50),
        (b"BI /W 2 /H 1 /BPC 8 ID \x00 S EI 0 0 m 30 40 l S", 50),
    ],
)
def test_painting_operators_draw_what_they_stroke(paper, content, expected):
    assert length(paper.draw(content)) == pytest.approx(expected, rel=1e-12)


def test_the_two_short_curves_repeat_a_point(paper):
    """``v`` starts along its first point, ``y`` ends along its last one."""
    short = paper.draw(b"0 0 m 10 20 30 0 v S 0 0 m 10 20 30 0 y S").strokes
    full = paper.draw(b"0 0 m 0 0 10 20 30 0 c S 0 0 m 10 20 30 0 30 0 c S").strokes
    assert short.kind.tolist() == [CUBIC, CUBIC]
    assert short.data.tolist() == full.data.tolist()


def test_each_move_begins_a_stroke(paper):
    drawing = paper.draw(b"0 0 m 10 0 l 0 10 m 10 10 l 20 10 l S")
    assert drawing.strokes.stroke.tolist() == [0, 1, 1]
    assert drawing.strokes.place == ("page 1, path 1", "page 1, path 1")


def test_a_rectangle_is_four_lines(paper):
    assert paper.draw(b"0 0 30 40 re s").strokes.kind.tolist() == [LINE] * 4


def test_a_scale_does_not_leak_out_of_its_brackets(paper):
    drawing = paper.draw(b"q 9 0 0 9 0 0 cm 0 0 m 1 0 l S Q 0 0 m 1 0 l S")
    assert drawing.strokes.lengths().tolist() == pytest.approx([9, 1])


def test_brackets_that_close_too_often_do_no_harm(paper):
    assert length(paper.draw(b"Q Q EMC EMC 0 0 m 1 0 l S")) == pytest.approx(1)


@pytest.mark.parametrize(
    ("content", "as_what"),
    [
        (b"0 0 9 9 re f", "fill only"),
        (b"0 0 9 9 re f*", "fill only"),
        (b"0 0 9 9 re F", "fill only"),
        (b"0 0 9 9 re n", "unpainted"),
        (b"0 0 400 400 re W n", "clip path"),
        (b"(x) Tj", "text"),
        (b"[(x) 3] TJ", "text"),
        (b"/Sh sh", "shading"),
        (b"BI /W 1 /H 1 /BPC 8 ID x EI", "image"),
        (b"/Separation CS /Nothing CS 1 SCN 0 0 m 9 9 l S", "invisible"),
        (b"/Clear gs 0 0 m 9 9 l S", "invisible"),
        (b"700 700 m 900 900 l S", "outside what is visible"),
        (b"q 300 300 9 9 re W n 0 0 m 9 9 l S Q", "outside what is visible"),
    ],
)
def test_what_is_no_stroke_is_left_out_and_counted(paper, content, as_what):
    spaces = Dictionary(Nothing=Array([Name.Separation, Name("/None"), Name.DeviceGray, 0]))
    drawing = paper.draw(
        b"0 0 m 10 0 l S q " + content + b" Q", ColorSpace=spaces, ExtGState=Dictionary(Clear=Dictionary(CA=0))
    )
    assert length(drawing) == pytest.approx(10)
    assert drawing.left_out[as_what] == 1
    assert as_what in finding(drawing, "drawing.left_out").message


def test_a_line_that_reaches_beyond_what_is_visible_counts_whole_and_is_told(paper):
    drawing = paper.draw(b"q 0 0 50 50 re W n 10 10 m 90 10 l S Q")
    assert length(drawing) == pytest.approx(80)
    assert "1 paths" in finding(drawing, "drawing.clipped").message


def test_a_page_without_strokes_says_what_is_there_instead(paper):
    assert "1 fill only" in finding(paper.draw(b"0 0 9 9 re f"), "drawing.no_lines").message


# -- page -------------------------------------------------------------------------------------------------------------


def test_a_page_is_in_points(paper):
    drawing = paper.draw(b"0 0 m 72 0 l S")
    assert (drawing.unit, drawing.mm_per_unit) == ("pt", PT)
    assert length(drawing) * drawing.mm_per_unit == pytest.approx(25.4, rel=1e-12)


def test_a_stated_unit_overrides_the_points(paper):
    paper.page.UserUnit = 5
    drawing = paper.draw(b"0 0 m 72 0 l S", "mm")
    assert (drawing.unit, drawing.mm_per_unit) == ("mm", 1.0)
    assert length(drawing) == pytest.approx(72)
    assert drawing.unit_source.startswith("stated")


def test_an_unknown_unit_is_refused(paper):
    with pytest.raises(InputError, match="no unit 'px96'"):
        paper.draw(b"", "px96")


@pytest.mark.parametrize(("turn", "end"), [(0, (90, 80)), (90, (80, 310)), (180, (310, 220)), (270, (220, 90))])
def test_a_turned_page_is_put_upright_at_the_origin(paper, turn, end):
    """The page is 400 wide and 300 high before the turn, which is clockwise."""
    paper.page.MediaBox = Array([10, 20, 410, 320])
    paper.page.Rotate = turn
    assert paper.draw(b"110 120 m 100 100 l S").strokes.at(1.0)[0] == pytest.approx(end)


def test_the_content_of_a_page_may_be_cut_into_several_streams(paper):
    paper.page.Contents = paper.pdf.make_indirect(
        Array([paper.pdf.make_stream(b"0 0 m 30"), paper.pdf.make_stream(b"40 l S")])
    )
    assert length(paper.read()) == pytest.approx(50)


def test_the_first_page_with_lines_is_read_and_told(paper):
    """All pages on one drawing would lie on one another, and alike lines would count once."""
    for content in (b"0 0 m 10 0 l S", b"0 0 m 99 0 l S"):
        paper.pdf.add_blank_page(page_size=(500, 500))
        paper.pdf.pages[-1].obj.Contents = paper.pdf.make_stream(content)
    drawing = paper.read()
    assert length(drawing) == pytest.approx(10)
    assert "3 pages; page 2 was read" in finding(drawing, "drawing.pages").message


def test_resources_may_stand_above_the_page(paper):
    form = paper.form(b"0 0 m 30 40 l S")
    paper.page.Contents = paper.pdf.make_stream(b"/F Do")
    del paper.page["/Resources"]
    paper.pdf.Root.Pages.Resources = Dictionary(XObject=Dictionary(F=form))
    assert length(paper.read()) == pytest.approx(50)


# -- layers -----------------------------------------------------------------------------------------------------------


def test_a_step_is_carried_as_the_file_has_it(paper):
    step = paper.layer("Knife", "Structural", "X_OwnStep")
    drawing = paper.draw(b"/OC /A BDC 0 0 m 9 0 l S EMC", Properties=Dictionary(A=step))
    assert drawing.groups == (Group("Knife", "#000000", "", "Structural", "X_OwnStep"),)


def test_a_group_without_a_type_is_a_step_as_well(paper):
    """Dimensions, Legend and others carry no type."""
    step = paper.layer("Sizes", "Dimensions")
    drawing = paper.draw(b"/OC /A BDC 0 0 m 9 0 l S EMC", Properties=Dictionary(A=step))
    assert drawing.groups == (Group("Sizes", "#000000", "", "Dimensions"),)


def test_two_layers_of_one_name_stay_apart(paper):
    """Names are free text; the dictionary is the layer."""
    layers = Dictionary(A=paper.layer("Knife", "Structural", "Cutting"), B=paper.layer("Knife"), C=paper.layer("Knife"))
    content = b"".join(b"/OC /%c BDC 0 0 m %d 0 l S EMC " % (65 + n, 10 * n + 10) for n in range(3))
    drawing = paper.draw(content, Properties=layers)
    assert by_layer(drawing) == pytest.approx({"Knife": 10, "Knife (2)": 20, "Knife (3)": 30})
    assert [group.step_type for group in drawing.groups] == ["Cutting", "", ""]


def test_one_layer_under_two_names_of_the_page_is_one(paper):
    knife = paper.layer("Knife")
    content = b"/OC /A BDC 0 0 m 10 0 l S EMC /OC /B BDC 0 0 m 5 0 l S EMC"
    assert by_layer(paper.draw(content, Properties=Dictionary(A=knife, B=knife))) == pytest.approx({"Knife": 15})


def test_a_membership_is_looked_through(paper):
    step = paper.layer("Knife", "Structural", "Cutting")
    member = paper.pdf.make_indirect(Dictionary(Type=Name.OCMD, OCGs=Array([paper.layer("Artwork"), step])))
    drawing = paper.draw(b"/OC /A BDC 0 0 m 9 0 l S EMC", Properties=Dictionary(A=member))
    assert drawing.groups[0].step_type == "Cutting"


def test_marks_that_are_no_layers_do_not_end_one(paper):
    content = b"/OC /A BDC /Span <</MCID 0>> BDC /Artifact BMC 0 0 m 9 0 l S EMC EMC 0 0 m 5 0 l S EMC 0 0 m 2 0 l S"
    drawing = paper.draw(content, Properties=Dictionary(A=paper.layer("Knife")))
    assert by_layer(drawing) == pytest.approx({"Knife": 14, "": 2})


def test_the_inner_of_two_layers_counts(paper):
    layers = Dictionary(A=paper.layer("Outer"), B=paper.layer("Inner"))
    drawing = paper.draw(b"/OC /A BDC /OC /B BDC 0 0 m 9 0 l S EMC EMC", Properties=layers)
    assert by_layer(drawing) == pytest.approx({"Inner": 9})


def test_a_layer_inside_a_step_belongs_to_the_step(paper):
    layers = Dictionary(A=paper.layer("Knife", "Structural", "Cutting"), B=paper.layer("Left half"))
    drawing = paper.draw(b"/OC /A BDC /OC /B BDC 0 0 m 9 0 l S EMC EMC", Properties=layers)
    assert drawing.groups[0].step_type == "Cutting"


def test_a_name_of_a_resource_may_be_written_with_escapes(paper):
    layers = Dictionary({"/A B": paper.layer("Knife")})
    assert by_layer(paper.draw(b"/OC /A#20B BDC 0 0 m 9 0 l S EMC", Properties=layers)) == pytest.approx({"Knife": 9})


@pytest.mark.parametrize("step", [("Structural", "Cutting"), ()])
@pytest.mark.parametrize("base", ["ON", "OFF"])
def test_a_layer_that_is_switched_off_is_read_and_told(paper, step, base):
    """Die lines are often off so that they don't print; left out, the drawing would be empty."""
    knife = paper.layer("Knife", *step)
    paper.pdf.Root.OCProperties.D = Dictionary(BaseState=Name.OFF) if base == "OFF" else Dictionary(OFF=Array([knife]))
    drawing = paper.draw(b"/OC /A BDC 0 0 m 9 0 l S EMC", Properties=Dictionary(A=knife))
    assert length(drawing) == pytest.approx(9)
    found = finding(drawing, "drawing.hidden")
    assert found.where == "Knife"
    assert ("is the step Structural Cutting" in found.message) is bool(step)


def test_a_layer_that_is_on_is_no_finding(paper):
    knife = paper.layer("Knife")
    paper.pdf.Root.OCProperties.D = Dictionary(BaseState=Name.OFF, ON=Array([knife]))
    drawing = paper.draw(b"/OC /A BDC 0 0 m 9 0 l S EMC", Properties=Dictionary(A=knife))
    assert "drawing.hidden" not in codes(drawing)


# -- colours ----------------------------------------------------------------------------------------------------------


def separation(name: str, alternate: Name, full: list[float]) -> Array:
    """A spot colour that is computed by a plain blend from none to full."""
    blend = Dictionary(FunctionType=2, Domain=[0, 1], C0=[0] * len(full), C1=full, N=1)
    return Array([Name.Separation, Name("/" + name), alternate, blend])


@pytest.mark.parametrize(
    ("content", "colour"),
    [
        (b"", "#000000"),
        (b"1 0 0 RG", "#ff0000"),
        (b"0.5 G", "#808080"),
        (b"0 1 1 0 K", "#ff0000"),
        (b"/DeviceRGB CS 0 1 0 SC", "#00ff00"),
        (b"/Profile CS 0 0 1 SC", "#0000ff"),
        (b"/DeviceCMYK CS", "#000000"),
        (b"/Pattern CS /P1 SCN", ""),
        (b"q 1 0 0 RG Q", "#000000"),
    ],
)
def test_the_colour_of_a_stroke_is_told(paper, content, colour):
    profile = Array([Name.ICCBased, paper.pdf.make_stream(b"", N=3)])
    drawing = paper.draw(content + b" 0 0 m 9 0 l S", ColorSpace=Dictionary(Profile=profile))
    assert drawing.groups == (Group("", colour),)


def test_a_spot_colour_names_a_line_that_is_in_no_layer(paper):
    """In many a print file it is the only name that a die line has."""
    spaces = Dictionary(S=separation("Stanze", Name.DeviceCMYK, [0, 1, 1, 0]))
    drawing = paper.draw(b"/S CS 1 SCN 0 0 m 9 0 l S", ColorSpace=spaces)
    assert drawing.groups == (Group("spot: Stanze", "#ff0000"),)


def test_spot_colours_of_one_layer_are_apart(paper):
    """One layer "die" with a spot colour for each kind of line is common."""
    spaces = Dictionary(
        A=separation("Cut", Name.DeviceRGB, [1, 0, 0]), B=separation("Crease", Name.DeviceRGB, [0, 1, 0])
    )
    content = b"/OC /L BDC /A CS 1 SCN 0 0 m 9 0 l S /B CS 1 SCN 0 0 m 5 0 l S EMC"
    drawing = paper.draw(content, ColorSpace=spaces, Properties=Dictionary(L=paper.layer("Die")))
    assert by_layer(drawing) == pytest.approx({"Die / spot: Cut": 9, "Die / spot: Crease": 5})


def test_a_spot_colour_with_a_formula_of_its_own_keeps_its_name(paper):
    formula = paper.pdf.make_stream(b"{dup 0}", FunctionType=4, Domain=[0, 1], Range=[0, 1, 0, 1])
    spaces = Dictionary(S=Array([Name.Separation, Name("/Knife"), Name.DeviceRGB, formula]))
    assert paper.draw(b"/S CS 1 SCN 0 0 m 9 0 l S", ColorSpace=spaces).groups == (Group("spot: Knife"),)


@pytest.mark.parametrize(
    ("dash", "said"), [(b"[3 2] 0 d", "3 2"), (b"[] 0 d", ""), (b"[0 0] 0 d", ""), (b"/D gs", "4 1")]
)
def test_the_dash_of_a_stroke_is_its_line_type(paper, dash, said):
    states = Dictionary(D=Dictionary(D=Array([Array([4, 1]), 0])))
    drawing = paper.draw(dash + b" 0 0 m 9 0 l S", ExtGState=states)
    assert drawing.groups == (Group("", "#000000", said),)


# -- forms ------------------------------------------------------------------------------------------------------------


def test_a_form_is_drawn_by_its_matrix_each_time(paper):
    form = paper.form(b"0 0 m 10 0 l S", Matrix=Array([2, 0, 0, 2, 5, 5]))
    drawing = paper.draw(b"/F Do q 3 0 0 3 0 0 cm /F Do Q", XObject=Dictionary(F=form))
    assert drawing.strokes.lengths().tolist() == pytest.approx([20, 60])


def test_the_state_of_a_form_does_not_leak(paper):
    form = paper.form(b"9 0 0 9 0 0 cm 1 0 0 RG q q 0 0 m 1 0 l S")
    drawing = paper.draw(b"q /F Do Q 0 0 m 1 0 l S", XObject=Dictionary(F=form))
    assert [group.colour for group in drawing.groups] == ["#ff0000", "#000000"]
    assert drawing.strokes.lengths().tolist() == pytest.approx([9, 1])


def test_a_form_can_not_end_a_layer_of_its_page(paper):
    form = paper.form(b"EMC EMC 0 0 m 9 0 l S")
    drawing = paper.draw(
        b"/OC /A BDC /F Do EMC", XObject=Dictionary(F=form), Properties=Dictionary(A=paper.layer("Knife"))
    )
    assert by_layer(drawing) == pytest.approx({"Knife": 9})


def test_a_form_may_carry_a_layer_and_resources_of_its_own(paper):
    inner = Dictionary(Properties=Dictionary(A=paper.layer("Inner")))
    form = paper.form(b"0 0 m 9 0 l S /OC /A BDC 0 0 m 5 0 l S EMC", OC=paper.layer("Perforation"), Resources=inner)
    drawing = paper.draw(b"/F Do 0 0 m 2 0 l S", XObject=Dictionary(F=form))
    assert by_layer(drawing) == pytest.approx({"Perforation": 9, "Inner": 5, "": 2})


def test_an_image_is_counted(paper):
    image = paper.pdf.make_stream(b"x", Subtype=Name.Image, Width=1, Height=1, BitsPerComponent=8)
    assert paper.draw(b"/I Do", XObject=Dictionary(I=image)).left_out == {"image": 1}


def test_a_form_that_draws_itself_is_left_out_and_told(paper):
    form = paper.form(b"0 0 m 9 0 l S /F Do")
    form.Resources = Dictionary(XObject=Dictionary(F=form))
    drawing = paper.draw(b"/F Do", XObject=Dictionary(F=form))
    assert length(drawing) == pytest.approx(9)
    assert "drawing.loop" in codes(drawing)


def test_two_forms_that_draw_each_other_come_to_an_end(paper):
    one, two = paper.form(b"/F Do /F Do"), paper.form(b"/F Do /F Do 0 0 m 1 0 l S")
    one.Resources, two.Resources = Dictionary(XObject=Dictionary(F=two)), Dictionary(XObject=Dictionary(F=one))
    assert "drawing.loop" in codes(paper.draw(b"/F Do", XObject=Dictionary(F=one)))


def test_a_chain_of_forms_stops_at_the_limit(paper):
    form = paper.form(b"0 0 m 1 0 l S")
    for _ in range(40):
        form = paper.form(b"/F Do", Resources=Dictionary(XObject=Dictionary(F=form)))
    with pytest.raises(InputError, match="32 deep"):
        paper.draw(b"/F Do", XObject=Dictionary(F=form))


def test_a_tree_of_forms_stops_at_the_limit(paper, monkeypatch):
    """Ten forms that each draw the next one ten times stand for ten billion lines."""
    monkeypatch.setattr(pdf_content, "MOST_FORMS", 2_000)
    form = paper.form(b"0 0 m 1 0 l S")
    for _ in range(10):
        form = paper.form(b"/F Do " * 10, Resources=Dictionary(XObject=Dictionary(F=form)))
    with pytest.raises(InputError, match="2,000 of them"):
        paper.draw(b"/F Do", XObject=Dictionary(F=form))


def test_a_form_that_is_not_there_is_told(paper):
    assert "drawing.missing" in codes(paper.draw(b"/F Do"))


# -- files ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("content", [b"", b"nothing", b"<svg/>", b"\x00" * 5000])
def test_what_is_no_pdf_is_refused(tmp_path, content):
    path = tmp_path / "tray.pdf"
    path.write_bytes(content)
    with pytest.raises(FileError, match="no PDF"):
        read_pdf(path)


def test_a_file_that_is_not_there_is_an_error_with_its_place(tmp_path):
    with pytest.raises(FileError, match=r"none\.pdf"):
        read_pdf(tmp_path / "none.pdf")


def test_a_file_with_nothing_but_a_head_is_refused_without_naming_its_folder(tmp_path):
    """A message may be shown to somebody else than the owner of the machine."""
    path = tmp_path / "tray.pdf"
    path.write_bytes(b"%PDF-1.7\nnothing")
    with pytest.raises(FileError, match="damaged") as caught:
        read_pdf(path)
    assert str(tmp_path) not in str(caught.value)


def test_a_file_locked_by_a_password_is_refused(paper):
    with pytest.raises(FileError, match="password"):
        paper.read(encryption=pikepdf.Encryption(owner="owner", user="user"))


def test_a_file_that_only_forbids_changes_is_read(paper):
    """It is encrypted, but by an empty password."""
    paper.page.Contents = paper.pdf.make_stream(b"0 0 m 30 40 l S")
    assert length(paper.read(encryption=pikepdf.Encryption(owner="owner", user=""))) == pytest.approx(50)


def test_a_file_without_pages_is_refused(paper):
    del paper.pdf.pages[0]
    with pytest.raises(FileError, match="no page"):
        paper.read()


def test_a_file_that_ends_too_early_is_repaired_and_told(paper):
    paper.page.Contents = paper.pdf.make_stream(b"0 0 m 30 40 l S")
    paper.read()
    whole = paper.path.read_bytes()
    paper.path.write_bytes(whole[: whole.rindex(b"xref")])
    drawing = read_pdf(paper.path)
    assert length(drawing) == pytest.approx(50)
    assert str(paper.path) not in finding(drawing, "drawing.repaired").message


def test_a_damaged_stream_is_read_up_to_the_damage_and_told(paper):
    content = b"".join(b"%d 0 m %d 40 l S\n" % (n, n) for n in range(400))
    packed = bytearray(zlib.compress(content))
    packed[len(packed) // 2 : len(packed) // 2 + 40] = b"\xff" * 40
    paper.page.Contents = paper.pdf.make_stream(bytes(packed), Filter=Name.FlateDecode)
    drawing = paper.read(stream_decode_level=pikepdf.StreamDecodeLevel.none, compress_streams=False)
    assert drawing.strokes.lengths()[:150].tolist() == pytest.approx([40] * 150)
    assert len(drawing.strokes) < 400
    assert "drawing.broken_stream" in codes(drawing)


def test_a_stream_bomb_is_not_unpacked(paper):
    """A hundred kilobytes that unpack to a hundred megabytes."""
    packer = zlib.compressobj(9)
    packed = b"".join(packer.compress(b" " * 1_000_000) for _ in range(100)) + packer.flush()
    paper.page.Contents = paper.pdf.make_stream(packed, Filter=Name.FlateDecode)
    paper.pdf.save(paper.path, stream_decode_level=pikepdf.StreamDecodeLevel.none, compress_streams=False)
    with pytest.raises(InputError, match="more than 64 MB"):
        read_pdf(paper.path)


def test_a_small_stream_that_is_run_again_and_again_stops_at_the_limit(paper, monkeypatch):
    monkeypatch.setattr(pdf_content, "MOST_BYTES", 1_000_000)
    form = paper.form(b" " * 100_000)
    with pytest.raises(InputError, match="1 MB of content"):
        paper.draw(b"/F Do " * 20, XObject=Dictionary(F=form))


def test_an_outdated_packing_is_not_unpacked_when_large(paper):
    """It packs up to 1,300 to 1, and its size can't be told before."""
    paper.page.Contents = paper.pdf.make_stream(b"\x80" * 70_000, Filter=Name.LZWDecode)
    paper.pdf.save(paper.path, stream_decode_level=pikepdf.StreamDecodeLevel.none, compress_streams=False)
    with pytest.raises(InputError, match="outdated way"):
        read_pdf(paper.path)


def test_more_pieces_than_the_limit_are_refused(paper, monkeypatch):
    monkeypatch.setattr(pdf_content, "MOST_PIECES", 100)
    with pytest.raises(InputError, match="100 pieces"):
        paper.draw(b"0 0 9 9 re S " * 30)


def test_pages_that_hold_one_another_come_to_an_end(paper):
    paper.page.Contents = paper.pdf.make_stream(b"0 0 m 9 0 l S")
    del paper.page["/Resources"]
    paper.page.Parent = paper.page
    paper.pdf.Root.Pages.Parent = paper.pdf.Root.Pages
    try:
        assert length(paper.read()) == pytest.approx(9)
    except FileError as error:
        assert "damaged" in str(error)  # noqa: PT017 - a refusal is as good as an answer


@pytest.mark.parametrize(
    "content",
    [
        b"0 0 m nan 0 l S",
        b"0 0 m 1.2.3 0 l S",
        b"0 0 m " + b"9" * 400 + b" 0 l S",
        b"0 0 m l S",
        b"0 0 m /A 5 l S",
        b"1 cm",
        b"1 0 0 1 9" + b"9" * 400 + b" 0 cm 0 0 m 9 9 l S",
        b"/A RG /B gs 1 /C CS",
    ],
)
def test_commands_that_can_not_be_read_are_told_and_the_rest_is_drawn(paper, content):
    drawing = paper.draw(b"0 0 m 10 0 l S " + content)
    assert np.isfinite(drawing.strokes.data).all()
    assert length(drawing) >= 10


def test_a_command_without_its_numbers_is_told(paper):
    assert "drawing.broken_numbers" in codes(paper.draw(b"0 0 m l S"))


def test_reading_takes_time_in_proportion_on_contents_that_invite_backtracking(paper):
    """Each of these takes hours if a pattern looks back over what it has seen; the test then never ends."""
    many = 300_000
    for content in (b"(" * many, b"(a" * many, b"<" * many, b"<41" * many, b"((x)" * many, b"1 " * many, b"[" * many):
        assert length(paper.draw(b"0 0 m 10 0 l S " + content)) == pytest.approx(10)
