"""Colours and strokes: told apart by everyone, and read on their ground."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from compare.geometry.line_kinds import LINE_PENS
from compare.present.look import PALETTES, ROUTE_DASH, mixed
from compare.routes.inventory import STAGES

# published: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color
# Vision Deficiency", IEEE Trans. Visualization and Computer Graphics 15(6), 2009: matrices of severity 1.0, for linear RGB
VISION = {
    "full": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# published: IEC 61966-2-1 (sRGB): linear RGB to CIE XYZ, white D65
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
SCHEMES = list(PALETTES.items())


def _linear(colour):
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def _lab(colour, vision):
    """CIE L*a*b* of a colour as someone sees it (CIE 015: white point D65)."""
    seen = np.clip(VISION[vision] @ _linear(colour), 0, 1)
    ratio = XYZ @ seen / (XYZ @ np.ones(3))
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def _apart(one, other, vision="full"):
    """CIE76 colour difference; about 2.3 is just noticeable (Sharma, Digital Color Imaging Handbook, 2003)."""
    return float(np.linalg.norm(_lab(one, vision) - _lab(other, vision)))


def _contrast(one, other):
    """WCAG 2.2: (L1 + 0.05) / (L2 + 0.05) of relative luminances."""
    low, high = sorted(float(XYZ[1] @ _linear(colour)) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def test_the_simulation_keeps_white_white_and_takes_red_and_green_together():
    """What the matrices must do, or the tests below prove nothing."""
    for vision, matrix in VISION.items():
        assert matrix.sum(axis=1) == pytest.approx([1, 1, 1], abs=1e-5), vision
    red_green = [_apart("#c03030", "#607020", vision) for vision in ("full", "protanopia", "deuteranopia")]
    assert red_green[0] > 2 * max(red_green[1:])


def test_the_measures_agree_with_known_values():
    """Black on white is 21 to 1 (WCAG 2.2); pure sRGB red is L* 53.2, a* 80.1, b* 67.2 (CIE L*a*b*, D65)."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21, abs=0.01)
    assert _lab("#ff0000", "full") == pytest.approx([53.2, 80.1, 67.2], abs=0.15)


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize(("scheme", "palette"), SCHEMES)
def test_the_two_routes_stay_apart_for_every_kind_of_colour_vision(scheme, palette, vision):
    """Twenty times what is just noticeable: side by side or on two sides of a screen."""
    assert _apart(palette.die, palette.laser, vision) > 45


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize(("scheme", "palette"), SCHEMES)
def test_neighbouring_stages_stay_apart_for_every_kind_of_colour_vision(scheme, palette, vision):
    """Bars touch each other in the order of the stages; ten is four times what is just noticeable."""
    shown = [palette.stages[stage] for stage in STAGES if stage != "material"]
    for one, other in pairwise(shown):
        assert _apart(one, other, vision) > 10


@pytest.mark.parametrize(("scheme", "palette"), SCHEMES)
def test_no_stage_has_the_colour_of_a_route(scheme, palette):
    for colour in palette.stages.values():
        for route in (palette.die, palette.laser):
            assert _apart(colour, route) > 15


@pytest.mark.parametrize("kind", ["ink", "quiet", "die", "crease"])
@pytest.mark.parametrize(("scheme", "palette"), SCHEMES)
def test_text_can_be_read_on_its_ground(scheme, palette, kind):
    """WCAG 2.2, criterion 1.4.3: 4.5 to 1 for text."""
    assert _contrast(getattr(palette, kind), palette.ground) >= 4.5


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize(("scheme", "palette"), SCHEMES)
def test_tones_of_heads_stay_apart_for_every_kind_of_colour_vision(scheme, palette, vision):
    """Twenty is nine times what is just noticeable; beside the tone there are strokes and numbers."""
    for one, other in combinations(palette.heads, 2):
        assert _apart(one, other, vision) > 20


@pytest.mark.parametrize(("scheme", "palette"), SCHEMES)
def test_no_head_has_the_colour_of_a_route_and_its_name_can_be_read(scheme, palette):
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text of this size."""
    for tone in palette.heads:
        assert min(_apart(tone, palette.die), _apart(tone, palette.laser)) > 30
        assert _contrast(tone, palette.ground) >= 4.5


@pytest.mark.parametrize(("scheme", "palette"), SCHEMES)
def test_the_lasers_colour_can_be_read_where_it_is_large_and_seen_where_it_is_a_line(scheme, palette):
    """WCAG 2.2, 1.4.3 and 1.4.11: 3 to 1 for bold text from 14 pt (18.7 px) and for lines."""
    assert _contrast(palette.laser, palette.ground) >= 3


@pytest.mark.parametrize(("scheme", "palette"), SCHEMES)
def test_every_bar_of_a_stage_can_be_seen_or_has_its_edge(scheme, palette):
    """The paler steps of the ramp are named in the legend and written in the table; they must not vanish."""
    for stage, colour in palette.stages.items():
        if stage != "material":
            assert _apart(colour, palette.ground) > 15, stage


def test_routes_and_lines_differ_by_stroke_so_that_grey_print_tells_them_apart():
    assert len(set(ROUTE_DASH.values())) == len(ROUTE_DASH) == 2
    for one, other in combinations(LINE_PENS.values(), 2):
        assert (one.dash, one.width) != (other.dash, other.width)
        assert one.label != other.label


def test_both_schemes_keep_the_same_order_of_contrast():
    for palette in PALETTES.values():
        order = [_contrast(colour, palette.ground) for colour in (palette.ink, palette.quiet, palette.grid)]
        assert order == sorted(order, reverse=True)


@pytest.mark.parametrize(("_", "palette"), SCHEMES)
@pytest.mark.parametrize("share", np.linspace(0, 1, 21))
def test_words_on_every_shade_of_the_map_can_be_read(_, palette, share):
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text of this size."""
    for route in (palette.die, palette.laser):
        assert _contrast(palette.ink, mixed(palette.grid, route, share * palette.deepest)) >= 4.5


def test_a_mix_goes_from_one_colour_to_the_other():
    assert [mixed("#000000", "#ff8000", share) for share in (0, 0.5, 1)] == ["#000000", "#804000", "#ff8000"]
