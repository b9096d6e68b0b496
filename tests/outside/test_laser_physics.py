"""The laser against physics: cutting speed, depth, delays, electricity, and the board that burns."""

from __future__ import annotations

import math

import pytest

from compare import compare
from compare.factors import factors
from compare.geometry.linework import measure_outline
from compare.routes.laser import carton_s, kerf_kg, mark_speed, source_kw

NO_LIMIT = 1_000.0  # m/s: a scanner that is never the limit

# One head with all of the work, and no time for anything that a test does not ask for.
STILL = {
    "laser.heads": 1,
    "laser.balance": 1,
    "laser.jump_delay_ms": 0,
    "laser.mark_delay_ms": 0,
    "laser.polygon_delay_ms": 0,
    "laser.mean_jump_mm": 0,
    "work.cutting_m": 0,
    "work.creasing_m": 0,
}


@pytest.mark.parametrize(("severance", "speed"), [(0.5, 5.0), (0.2, 12.5), (1.7, 1.470588)])
def test_1000_watts_cut_0_40_mm_board(severance, speed):
    """Severance energies from memory: Steen & Mazumder, Laser Material Processing; speeds derived."""
    assert mark_speed(NO_LIMIT, 1_000, severance, 0.40) == pytest.approx(speed, rel=1e-4)


def test_half_the_caliper_or_twice_the_power_cuts_twice_as_fast():
    """Derived: v = P/(S t), from 5 m/s at 1,000 W, 0.5 J/mm2 and 0.40 mm."""
    assert mark_speed(NO_LIMIT, 1_000, 0.5, 0.20) == pytest.approx(10.0, rel=1e-12)
    assert mark_speed(NO_LIMIT, 2_000, 0.5, 0.40) == pytest.approx(10.0, rel=1e-12)


def test_scanner_limits_what_the_power_would_cut():
    """Derived: 5 m/s by power, 4 m/s by the scanner."""
    assert mark_speed(4.0, 1_000, 0.5, 0.40) == 4.0


def test_foil_coated_paperboard_tube_is_cut_round_in_1_9_seconds():
    """Published: AILU news, 10 August 2010: 200 W, 10.2 m/min, wall of 1.0 mm, circumference of 320 mm.

    Derived: a severance energy of 1.17647 J/mm2, and 1.882 s, which the source prints as 1.9 s.
    """
    speed = mark_speed(NO_LIMIT, 200, 1.17647, 1.0)
    assert speed * 60 == pytest.approx(10.2, rel=1e-4)
    assert 0.320 / speed == pytest.approx(1.882, abs=5e-4)
    assert round(0.320 / speed, 1) == 1.9


def test_score_of_200_watts_at_5_metres_per_second_is_0_08_mm_deep():
    """Derived: z = P/(S v): a fifth of a 0.40 mm board is scored at 5 m/s."""
    assert mark_speed(NO_LIMIT, 200, 0.5, 0.40, 0.2) == pytest.approx(5.0, rel=1e-9)


def test_score_reaches_through_the_board_at_the_cutting_speed():
    """Derived: at 1 m/s 200 W reach 0.40 mm deep, which is the whole board."""
    assert mark_speed(NO_LIMIT, 200, 0.5, 0.40, 1.0) == pytest.approx(1.0, rel=1e-9)
    assert mark_speed(NO_LIMIT, 200, 0.5, 0.40) == pytest.approx(1.0, rel=1e-9)


def test_1_kw_beam_takes_13_kw():
    """Derived: efficiency 0.10 makes 10 kW at the source and 9 kW of heat, chilled with a COP of 3.

    Efficiency and COP are common practice, no source. Overall 7.69 %.
    """
    assert source_kw(1.0, 0.10, 3) == pytest.approx(13.0, rel=1e-12)
    assert 1 / source_kw(1.0, 0.10, 3) == pytest.approx(0.0769, abs=5e-5)


def test_beam_without_chiller_takes_10_kw():
    """Derived: the same source alone."""
    assert source_kw(1.0, 0.10) == pytest.approx(10.0, rel=1e-12)


def test_4_metres_of_cut_take_2_2222_kwh_per_1000_cartons(plain):
    """Derived: 0.5 J/mm2 x 0.40 mm x 4,000 mm = 800 J of light, 8.0 kJ of electricity at 0.10.

    Only where the power is the limit: a scanner that is the limit keeps the beam on for longer.
    """
    values = {
        **STILL,
        "work.cutting_m": 4,
        "laser.efficiency": 0.10,
        "laser.chiller_cop": 1e9,
        "laser.severance_j_mm2": 0.5,
        "laser.max_mark_m_s": 8,
        "laser.aux_kw": 0,
        "laser.setup_sheets": 0,
        "laser.running_waste": 0,
    }
    (running,) = [
        row for row in compare(plain(values)).laser.ledger if (row.stage, row.resource) == ("running", "electricity")
    ]
    assert running.quantity == pytest.approx(2.2222, rel=1e-4)


def test_4_metres_of_kerf_lose_0_240_grams():
    """Derived: 4 m x 0.2 mm x 300 g/m2."""
    assert kerf_kg(4, 0.2, 300) == pytest.approx(0.240e-3, rel=1e-9)


def test_kerf_gives_less_co2_than_pure_cellulose_would():
    """Derived: cellulose C6H10O5 is 0.44447 carbon by mass and burns to 1.62855 g CO2 per g.

    Board is moist and part mineral, so its factor must stay below: 0.240 g give at most 0.39085 g.
    """
    carbon, hydrogen, oxygen = 12.011, 1.008, 15.999
    share = 6 * carbon / (6 * carbon + 10 * hydrogen + 5 * oxygen)
    assert share == pytest.approx(0.44447, abs=1e-4)
    assert share * (carbon + 2 * oxygen) / carbon == pytest.approx(1.62855, abs=1e-4)
    grams = kerf_kg(4, 0.2, 300) * 1000 * factors()["kerf_biogenic_co2"].value
    assert grams == pytest.approx(0.36432, abs=1e-5)
    assert grams < 0.39085


@pytest.mark.parametrize(("degrees", "milliseconds"), [(0, 0.0), (60, 0.05), (90, 0.10), (180, 0.20)])
def test_polygon_delay_grows_with_the_turn(plain, degrees, milliseconds):
    """Published: manual of a general-purpose scanner control card (name withheld): scale 1 - cos of the turn."""
    load = 1 - math.cos(math.radians(degrees))
    x = plain({**STILL, "laser.polygon_delay_ms": 0.10, "work.corner_load": load}).inputs
    assert carton_s(x) * 1000 == pytest.approx(milliseconds, abs=1e-9)


@pytest.mark.parametrize(
    ("outline", "milliseconds"),
    [
        pytest.param(((0, 0), (50, 0), (50, 30), (0, 30)), 0.30, id="rectangle: 3 right angles"),
        pytest.param(((0, 0), (25, 0), (50, 0), (50, 30), (0, 30)), 0.30, id="a point on a side turns nothing"),
        pytest.param(
            tuple((math.cos(i * math.pi / 3), math.sin(i * math.pi / 3)) for i in range(6)),
            0.25,
            id="hexagon: 5 turns of 60 degrees",
        ),
        pytest.param(((0, 0), (1, 0), (0.5, math.sqrt(3) / 2)), 0.30, id="triangle: 2 turns of 120 degrees"),
    ],
)
def test_corners_of_an_outline_take_their_delay(plain, outline, milliseconds):
    """Derived from the published 1 - cos rule with 0.10 ms; a closed stroke starts at one of its corners."""
    load = measure_outline(outline).corner_load
    x = plain({**STILL, "laser.polygon_delay_ms": 0.10, "work.corner_load": load}).inputs
    assert carton_s(x) * 1000 == pytest.approx(milliseconds, abs=1e-9)


def test_ten_rectangles_take_920_milliseconds_and_the_jump_to_the_first(plain):
    """Derived: 800 marking + 112.5 jumping + 2.7 jump, 2.0 mark and 3.0 polygon delays = 920.2 ms.

    That is from the first rectangle on, with 9 jumps. The program counts a jump before every stroke,
    the first included: 12.5 + 0.3 ms more.
    """
    outline = measure_outline(((0, 0), (50, 0), (50, 30), (0, 30)))
    x = plain(
        {
            **STILL,
            "work.cutting_m": 10 * outline.length_mm / 1000,
            "work.strokes": 10 * outline.strokes,
            "work.corner_load": 10 * outline.corner_load,
            "laser.power_w": 10_000,
            "laser.max_mark_m_s": 2,
            "laser.jump_m_s": 8,
            "laser.mean_jump_mm": 100,
            "laser.jump_delay_ms": 0.3,
            "laser.mark_delay_ms": 0.2,
            "laser.polygon_delay_ms": 0.1,
        }
    ).inputs
    assert carton_s(x) * 1000 == pytest.approx(933.0, abs=1e-6)
    assert carton_s(x) * 1000 - 12.8 == pytest.approx(920.2, abs=1e-6)
