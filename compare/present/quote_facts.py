"""The job of a quote in five lines, and the carton drawn."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

from compare.boards import boards
from compare.decide.comparison import Comparison
from compare.present import quote_sentences as sentences
from compare.present.charts import outline_chart
from compare.present.numbers import count, figures, whole
from compare.present.quote_parts import Labelled, OutlinePicture
from compare.present.quote_words import QuoteWords

NAME_CHARACTERS = 200
"""Longer names of jobs and plants are shortened."""

MM_PER_INCH = 25.4

_MANY_POINTS, _PRINTED_MM, _PICTURE_MM = 20_000, 0.05, 60.0
"""A drawing of more points is thinned to what can be seen in a picture of that width on paper [mm]."""

Lines = dict[str, tuple[tuple[tuple[float, float], ...], ...]]


def one_line(text: str, *, most: int = NAME_CHARACTERS) -> str:
    """Return a name on one line, without characters that steer a page instead of standing on it, at most so long."""
    seen = "".join(" " if unicodedata.category(letter)[0] == "Z" or letter in "\t\n\r" else letter for letter in text)
    seen = "".join(
        letter for letter in seen if letter in "\u200c\u200d" or unicodedata.category(letter) not in ("Cc", "Cf", "Cs")
    )
    seen = " ".join(seen.split())
    return seen if len(seen) <= most else seen[: most - 1].rstrip() + "…"


def job_facts(c: Comparison, words: QuoteWords, *, inches: bool) -> tuple[Labelled, ...]:
    """Return the job in five lines: carton, board, order, versions, lead time; sizes in mm or inches."""
    x, say, style = c.scenario.inputs, words.say, words.style
    run = whole(c.run_length, style)
    years = words.counted("years", x.number("demand.years"))
    per_year = words.counted("orders", x.number("demand.orders_per_year"))
    if c.orders > 1:
        order = say("job", "order_again", run=run, orders=per_year, years=years)
    else:
        order = say("job", "order_once", run=run)
    return (
        Labelled(say("job", "carton"), _with_cutouts(_carton(c, words, inches=inches), c, words)),
        Labelled(say("job", "board"), _board(c, words)),
        Labelled(say("job", "order"), order),
        Labelled(say("job", "versions"), say("job", "joined", first=versions_of(c, words), second=_changes(c, words))),
        Labelled(say("job", "lead_time"), sentences.lead_time(c, words)),
    )


def _with_cutouts(carton: str, c: Comparison, words: QuoteWords) -> str:
    """Add the cut-outs of a style: they are in the price, and nobody knows their places."""
    cutouts = c.scenario.inputs.number("cutouts.count")
    if not cutouts or not c.scenario.choices.get("carton.style"):
        return carton
    return words.say("job", "joined", first=carton, second=words.counted("cutouts", cutouts))


def _carton(c: Comparison, words: QuoteWords, *, inches: bool) -> str:
    x = c.scenario.inputs
    unit = "in" if inches else "mm"
    box = c.scenario.blank.box_mm if c.scenario.blank is not None else None
    if box is None and "carton.blank_width_mm" in x and "carton.blank_height_mm" in x:
        box = (x.number("carton.blank_width_mm"), x.number("carton.blank_height_mm"))
    if box is None:
        return words.say("job", "carton_lengths", area=figures(x.number("carton.blank_area_m2"), style=words.style))
    blank = dict(zip(("blank_width", "blank_height"), (_size(v, words, inches=inches) for v in box), strict=True))
    style = c.scenario.choices.get("carton.style", "")
    if not style:
        name = "carton_drawing" if c.scenario.drawn is not None else "carton_sizes"
        return words.say("job", name, unit=unit, **blank)
    sizes = {n: _size(x.number(f"carton.{n}_mm"), words, inches=inches) for n in ("length", "width", "height")}
    return words.say("job", "carton_style", style=words.say("styles", style), unit=unit, **sizes, **blank)


def _size(mm: float, words: QuoteWords, *, inches: bool) -> str:
    return words.style.write(f"{mm / MM_PER_INCH:,.2f}") if inches else count(round(mm, 1), words.style)


def _board(c: Comparison, words: QuoteWords) -> str:
    x, grade = c.scenario.inputs, c.scenario.choices.get("board.grade", "")
    grammage = count(x.number("board.grammage_g_m2"), words.style)
    family = grade.rpartition("_")[0]
    if words.has("boards", family):
        board = words.say("boards", family, grammage=grammage)
    elif grade:
        board = boards()[grade].name
    else:
        caliper = figures(x.number("board.caliper_mm"), style=words.style)
        board = words.say("job", "board_own", grammage=grammage, caliper=caliper)
    laminate = c.scenario.choices["board.laminate"]
    if laminate == "none":
        return board
    return words.say("job", "laminated", board=board, laminate=words.say("laminates", laminate))


def versions_of(c: Comparison, words: QuoteWords) -> str:
    """Say in how many structures and artworks the carton comes."""
    x = c.scenario.inputs
    said = [words.counted("versions", x.number("demand.versions"))]
    if (artworks := x.number("demand.artwork_versions")) > 1:
        said.append(words.counted("artworks", artworks))
    return ", ".join(said)


def _changes(c: Comparison, words: QuoteWords) -> str:
    changes = c.scenario.inputs.number("demand.changes_per_year")
    return words.counted("changes", changes) if changes else words.say("no", "changes")


def outline_picture(c: Comparison, words: QuoteWords, *, inches: bool) -> OutlinePicture | None:
    """Return the flat carton drawn; ``None`` where only its lengths are known."""
    if c.scenario.blank is not None:
        chart = outline_chart(c.scenario.blank)
    elif c.scenario.drawn is not None:
        # readers of drawings take a while to load, and few jobs have one
        from compare.present.drawing_charts import drawing_chart

        chart = drawing_chart(c.scenario.drawn, ())
    else:
        return None
    lines = {kind: some for kind, some in chart.lines.items() if kind != "ignored" and some}
    if not lines:
        return None
    legend = {kind: words.say("lines", kind) for kind in lines}
    width, height = (_size(v, words, inches=inches) for v in chart.size_mm)
    unit = "in" if inches else "mm"
    places = {"width": width, "height": height, "unit": unit}
    chart = replace(
        chart,
        lines=_thinned(lines, chart.size_mm),
        title=words.say("job", "picture", **places),
        summary=words.say("job", "picture_of", kinds=", ".join(legend.values()), **places),
    )
    return OutlinePicture(chart, legend, (f"{width} {unit}", f"{height} {unit}"))


def _thinned(lines: Lines, size_mm: tuple[float, float]) -> Lines:
    """Leave out points that can't be seen on paper, where a drawing has very many."""
    points = sum(len(line) for some in lines.values() for line in some)
    if points <= _MANY_POINTS:
        return lines
    import shapely  # takes a while to load, and few drawings need it

    seen = _PRINTED_MM * max(*size_mm, 1.0) / _PICTURE_MM
    return {
        kind: tuple(
            tuple(map(tuple, shapely.get_coordinates(shapely.LineString(line).simplify(seen)).tolist()))
            if len(line) > 2
            else line
            for line in some
        )
        for kind, some in lines.items()
    }
