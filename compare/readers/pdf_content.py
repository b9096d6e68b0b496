"""Run the content of a PDF page and draw what it strokes.

The content is read word by word and nothing of it is kept but the path under construction, so that a
large page needs no more memory than a small one.
"""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Callable
from typing import Any, NamedTuple

import pikepdf

from compare.errors import InputError
from compare.geometry.strokes import Group, Pen
from compare.readers.pdf_colour import GREY, PROCESS, RGB, Space, hex_of, space_of
from compare.readers.pdf_layers import Layer, Layers, get, items, number_of, numbers_of, text_of
from compare.readers.pdf_words import commands
from compare.readers.svg_scale import Affine, times

MOST_PIECES, MOST_BYTES, MOST_FORMS, DEEPEST = 2_000_000, 64_000_000, 100_000, 32

_MOST_LZW = 64_000
_MARGIN = 0.5
"""A line that leaves the visible region by no more [pt] counts as inside: strokes have a width."""

_EVERYWHERE = (-1e30, -1e30, 1e30, 1e30)
Box = tuple[float, float, float, float]


class _State(NamedTuple):
    """Graphics state, as far as a line needs it."""

    matrix: Affine
    clip: Box
    space: Space = GREY
    colour: str = "#000000"
    dash: str = ""
    opacity: float = 1.0


def _meet(a: Box, b: Box) -> Box:
    return max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3])


def box_under(numbers: list[float], matrix: Affine) -> Box:
    """Return the box around a rectangle, two of its corners given, under a map."""
    a, b, c, d, e, f = matrix
    xs, ys = (
        [a * x + c * y + e for x in numbers[::2] for y in numbers[1::2]],
        [b * x + d * y + f for x in numbers[::2] for y in numbers[1::2]],
    )
    return min(xs), min(ys), max(xs), max(ys)


class Content:
    """Runs the content of one page.

    Attributes
    ----------
    pen : Pen
        What was drawn.
    notes : Counter
        What a reader should be told, with how often it was met.
    off : Counter
        Strokes drawn on layers that the file switches off, by layer.
    """

    def __init__(self, layers: Layers, name: str, page: int) -> None:
        self.pen = Pen()
        self.notes: Counter[str] = Counter()
        self.off: Counter[Layer] = Counter()
        self._layers, self._name, self._page = layers, name, page
        self._bytes, self._forms, self._paths = 0, 0, 0
        self._decoded: dict[tuple[int, int], bytes] = {}
        self._open: list[tuple[int, int]] = []
        self._marks: list[tuple[Layer | None, bool]] = []
        self._floor = 0
        self._groups: dict[tuple[Layer | None, str, str, str], Group] = {}
        self._state = _State((1, 0, 0, 1, 0, 0), _EVERYWHERE)
        self._stack: list[_State] = []
        self._resources: Any = None
        self._cached: dict[tuple[str, str], Any] = {}
        self._path: list[tuple[float, ...]] = []
        self._at = self._first = (0.0, 0.0)
        self._clipping = False
        self._do: dict[bytes, Callable[[list[Any]], None]] = {
            b"m": self._move, b"l": self._line, b"c": self._curve, b"v": self._curve_from, b"y": self._curve_to,
            b"h": self._close, b"re": self._rectangle, b"W": self._clip, b"W*": self._clip,
            b"S": lambda _: self._paint(True), b"s": self._close_stroke, b"B": lambda _: self._paint(True),
            b"B*": lambda _: self._paint(True), b"b": self._close_stroke, b"b*": self._close_stroke,
            b"f": lambda _: self._paint(False, "fill only"), b"F": lambda _: self._paint(False, "fill only"),
            b"f*": lambda _: self._paint(False, "fill only"), b"n": lambda _: self._paint(False, "unpainted"),
            b"q": self._save, b"Q": self._restore, b"cm": self._transform, b"d": self._dash, b"gs": self._settings,
            b"G": lambda o: self._colour(GREY, o), b"RG": lambda o: self._colour(RGB, o),
            b"K": lambda o: self._colour(PROCESS, o), b"CS": self._space,
            b"SC": lambda o: self._colour(self._state.space, o), b"SCN": lambda o: self._colour(self._state.space, o),
            b"BMC": lambda _: self._marks.append((None, False)), b"BDC": self._mark, b"EMC": self._unmark,
            b"Do": self._external, b"sh": lambda _: self._leave_out("shading"),
            b"EI": lambda _: self._leave_out("image"),
            b"Tj": lambda _: self._leave_out("text"), b"TJ": lambda _: self._leave_out("text"),
            b"'": lambda _: self._leave_out("text"), b'"': lambda _: self._leave_out("text"),
        }  # fmt: skip

    # -- commands -----------------------------------------------------------------------------------------------------

    def run(self, streams: Any, resources: Any, matrix: Affine, clip: Box) -> None:
        """Run a page.

        Parameters
        ----------
        streams : stream or array of streams
        resources : dictionary
        matrix : tuple
            Map of user space to the drawing.
        clip : tuple
            Box of what is visible, in the drawing.
        """
        self._state = _State(matrix, clip)
        data = bytearray()
        for stream in items(streams):
            data += self._bytes_of(stream) + b"\n"
            if len(data) > MOST_BYTES:
                break
        self._run(bytes(data), resources)

    def _run(self, data: bytes, resources: Any) -> None:
        self._bytes += len(data)
        if self._bytes > MOST_BYTES:
            raise InputError(
                f"the page runs through more than {MOST_BYTES // 1_000_000} MB of content",
                where=self._name,
                remedy="save the die lines alone",
            )
        outer, self._resources = (self._resources, self._cached), resources
        self._cached = {}
        for word, operands in commands(data):
            action = self._do.get(word)
            if action is not None:
                try:
                    action(operands)
                except InputError:
                    raise
                except (TypeError, ValueError, IndexError, ArithmeticError):
                    self.notes["broken"] += 1
        self._resources, self._cached = outer

    # -- paths --------------------------------------------------------------------------------------------------------

    def _put(self, x: float, y: float) -> tuple[float, float]:
        a, b, c, d, e, f = self._state.matrix
        return a * x + c * y + e, b * x + d * y + f

    def _move(self, o: list[Any]) -> None:
        x, y = o[-2:]
        self._at = self._first = self._put(x, y)
        self._path.append(self._at)

    def _line(self, o: list[Any]) -> None:
        x, y = o[-2:]
        end = self._put(x, y)
        self._path.append((*self._at, *end))
        self._at = end

    def _cubic(self, *points: tuple[float, float]) -> None:
        self._path.append((*self._at, *points[0], *points[1], *points[2]))
        self._at = points[2]

    def _curve(self, o: list[Any]) -> None:
        a, b, c, d, e, f = o[-6:]
        self._cubic(self._put(a, b), self._put(c, d), self._put(e, f))

    def _curve_from(self, o: list[Any]) -> None:
        c, d, e, f = o[-4:]
        self._cubic(self._at, self._put(c, d), self._put(e, f))

    def _curve_to(self, o: list[Any]) -> None:
        a, b, e, f = o[-4:]
        self._cubic(self._put(a, b), self._put(e, f), self._put(e, f))

    def _close(self, _: list[Any]) -> None:
        (x0, y0), (x1, y1) = self._at, self._first
        if self._path and max(abs(x0 - x1), abs(y0 - y1)) > 1e-12 * max(1.0, abs(x1), abs(y1)):
            self._path.append((x0, y0, x1, y1))
        self._at = self._first

    def _rectangle(self, o: list[Any]) -> None:
        x, y, w, h = o[-4:]
        self._move([x, y])
        for corner in ((x + w, y), (x + w, y + h), (x, y + h)):
            self._line(list(corner))
        self._close(o)

    def _clip(self, _: list[Any]) -> None:
        self._clipping = True

    def _close_stroke(self, o: list[Any]) -> None:
        self._close(o)
        self._paint(True)

    def _paint(self, stroked: bool, otherwise: str = "") -> None:
        """End the path: draw it if it is stroked and can be seen, else count it."""
        path, clipping = self._path, self._clipping
        self._path, self._clipping = [], False
        if path:
            state = self._state
            self._paths += 1
            xs, ys = [n for piece in path for n in piece[::2]], [n for piece in path for n in piece[1::2]]
            box = min(xs), min(ys), max(xs), max(ys)
            shut = state.clip
            if not stroked:
                self._leave_out("clip path" if clipping and otherwise == "unpainted" else otherwise)
            elif state.space.spot == "None" or state.opacity == 0:
                self._leave_out("invisible")
            elif (
                box[0] > shut[2] + _MARGIN
                or box[2] < shut[0] - _MARGIN
                or box[1] > shut[3] + _MARGIN
                or box[3] < shut[1] - _MARGIN
            ):
                self._leave_out("outside what is visible")
            else:
                beyond = max(shut[0] - box[0], shut[1] - box[1], box[2] - shut[2], box[3] - shut[3])
                self.notes["clipped"] += beyond > _MARGIN
                self._stroke(path)
            if clipping:
                self._state = state._replace(clip=_meet(state.clip, box))

    def _stroke(self, path: list[tuple[float, ...]]) -> None:
        layer = next((layer for layer, _ in reversed(self._marks) if layer is not None and layer.step_group), None)
        layer = layer or next((layer for layer, _ in reversed(self._marks) if layer is not None), None)
        state, pen = self._state, self.pen
        key = (layer, state.space.spot, state.colour, state.dash)
        group = self._groups.get(key) or self._groups.setdefault(key, _group(*key))
        place = f"page {self._page}, path {self._paths}"
        before = pen.drawn
        pen.begin(group, place)
        for piece in path:
            if len(piece) == 2:
                pen.begin(group, place)
            elif len(piece) == 8:
                if piece[:2] != piece[2:4] or piece[:2] != piece[4:6] or piece[:2] != piece[6:]:
                    pen.cubic(piece)
            elif piece[:2] != piece[2:]:
                pen.line(*piece)
        if pen.drawn > MOST_PIECES:
            raise InputError(f"more than {MOST_PIECES:,} pieces", where=self._name, remedy="save the die lines alone")
        if layer is not None and pen.drawn > before and any(hidden for _, hidden in self._marks):
            self.off[layer] += 1

    def _leave_out(self, what: str) -> None:
        self.pen.left_out[what] += 1

    # -- state --------------------------------------------------------------------------------------------------------

    def _save(self, _: list[Any]) -> None:
        self._stack.append(self._state)

    def _restore(self, _: list[Any]) -> None:
        if self._stack:
            self._state = self._stack.pop()

    def _transform(self, o: list[Any]) -> None:
        a, b, c, d, e, f = (float(n) for n in o[-6:])
        self._state = self._state._replace(matrix=times(self._state.matrix, (a, b, c, d, e, f)))

    def _dash(self, o: list[Any]) -> None:
        numbers = [n for n in o[:-1] if isinstance(n, float)]
        self._state = self._state._replace(dash=" ".join(f"{n:g}" for n in numbers[:16]) if sum(numbers) > 0 else "")

    def _settings(self, o: list[Any]) -> None:
        found = self._resource("/ExtGState", o[-1])
        opacity = number_of(get(found, "/CA"), self._state.opacity)
        self._state = self._state._replace(opacity=opacity)
        dash = get(found, "/D")
        if isinstance(dash, pikepdf.Array) and len(dash) == 2:
            self._dash([*numbers_of(dash[0]), 0.0])

    def _space(self, o: list[Any]) -> None:
        name = o[-1]
        key = ("space", name)
        if key not in self._cached:
            found = self._resource("/ColorSpace", name)
            self._cached[key] = space_of(pikepdf.Name("/" + name) if found is None else found)
        space: Space = self._cached[key]
        first = [1.0] if space.tint else [0.0, 0.0, 0.0, 1.0] if space.parts == 4 else [0.0] * space.parts
        self._state = self._state._replace(space=space, colour=hex_of(space, first))

    def _colour(self, space: Space, o: list[Any]) -> None:
        numbers = [n for n in o if isinstance(n, float)]
        self._state = self._state._replace(space=space, colour=hex_of(space, numbers))

    def _resource(self, kind: str, name: str) -> Any:
        key = (kind, name)
        if key not in self._cached:
            self._cached[key] = get(get(self._resources, kind), "/" + name)
        return self._cached[key]

    # -- marked content and forms -------------------------------------------------------------------------------------

    def _mark(self, o: list[Any]) -> None:
        mark: tuple[Layer | None, bool] = (None, False)
        if len(o) >= 2 and o[0] == "OC" and isinstance(o[1], str):
            found = self._resource("/Properties", o[1])
            self.notes["missing"] += found is None
            mark = self._layers.of(found)
        self._marks.append(mark)

    def _unmark(self, _: list[Any]) -> None:
        if len(self._marks) > self._floor:
            self._marks.pop()

    def _external(self, o: list[Any]) -> None:
        """Draw a form, which is a page within the page; count an image."""
        found = self._resource("/XObject", o[-1])
        if not isinstance(found, pikepdf.Stream):
            self.notes["missing"] += 1
            return
        if text_of(get(found, "/Subtype")) != "Form":
            self._leave_out("image")
            return
        key = found.objgen
        self._forms += 1
        if key in self._open:
            self.notes["loop"] += 1
            return
        if len(self._open) >= DEEPEST or self._forms > MOST_FORMS:
            what = f"forms are drawn more than {DEEPEST} deep, or more than {MOST_FORMS:,} of them"
            raise InputError(what, where=self._name, remedy="save the die lines alone")
        kept = self._state, self._stack, self._path, self._floor, len(self._marks)
        self._stack, self._path = [], []
        matrix = numbers_of(get(found, "/Matrix"))
        if len(matrix) == 6:
            a, b, c, d, e, f = matrix
            self._state = self._state._replace(matrix=times(self._state.matrix, (a, b, c, d, e, f)))
        corners = numbers_of(get(found, "/BBox"))
        if len(corners) == 4:
            box = box_under(corners, self._state.matrix)
            self._state = self._state._replace(clip=_meet(self._state.clip, box))
        marker = get(found, "/OC")
        if marker is not None:
            self._marks.append(self._layers.of(marker))
        self._floor = len(self._marks)
        self._open.append(key)
        own = get(found, "/Resources")
        self._run(self._bytes_of(found), own if own is not None else self._resources)
        self._open.pop()
        self._state, self._stack, self._path, self._floor, marks = kept
        del self._marks[marks:]

    def _bytes_of(self, stream: Any) -> bytes:
        """Return the unpacked bytes of a stream, as many of them as can be had."""
        if not isinstance(stream, pikepdf.Stream):
            self.notes["missing"] += 1
            return b""
        key = stream.objgen
        if key[0] and key in self._decoded:
            return self._decoded[key]
        filters = [text_of(item) for item in items(get(stream, "/Filter"))]
        try:
            # this one packs up to 1,300 to 1, and the library does not bound it
            if {"LZWDecode", "LZW"}.intersection(filters) and len(stream.read_raw_bytes()) > _MOST_LZW:
                raise InputError(
                    "the page is packed in an outdated way", where=self._name, remedy="save the file again"
                )
            data = stream.read_bytes()
        except pikepdf.PdfError:
            data = self._rest_of(stream, filters)
        if key[0]:
            self._decoded[key] = data
        return data

    def _rest_of(self, stream: Any, filters: list[str]) -> bytes:
        """Return what comes before the damage in a packed stream."""
        self.notes["broken stream"] += 1
        if filters not in (["FlateDecode"], ["Fl"]):
            return b""
        unpacker, data = zlib.decompressobj(), bytearray()
        try:
            raw = stream.read_raw_bytes()
            # piece by piece, for damage takes the whole of the piece it is in
            for n in range(0, len(raw), 64):
                data += unpacker.decompress(raw[n : n + 64])
                if len(data) > MOST_BYTES:
                    what = f"a stream unpacks to more than {MOST_BYTES // 1_000_000} MB"
                    raise InputError(what, where=self._name, remedy="save the die lines alone")
        except (zlib.error, pikepdf.PdfError):
            pass
        return bytes(data)


def _group(layer: Layer | None, spot: str, colour: str, dash: str) -> Group:
    """Say what the file tells about a line.

    A spot colour often is the only name a die line has; a layer that is no processing step may hold
    several, so its name goes with that of the layer. Where there is neither, the name is empty.
    """
    if layer is not None and layer.step_group:
        return Group(layer.name, colour, dash, layer.step_group, layer.step_type)
    names = ([layer.name] if layer is not None else []) + ([f"spot: {spot}"] if spot else [])
    return Group(" / ".join(names), colour, dash)
