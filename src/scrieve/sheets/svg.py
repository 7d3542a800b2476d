"""Drawing -> SVG: at full size in mm, at a stated scale for a sheet, or fitted for a page."""

from __future__ import annotations

from itertools import groupby
from urllib.parse import urlsplit
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from scrieve.errors import BadGeometry
from scrieve.sheets.drawing import (
    CAPITAL_EM,
    COLOURS,
    LAYERS,
    PAPER,
    Array,
    Bounds,
    Circle,
    Drawing,
    Hatch,
    Item,
    Layer,
    Line,
    Polyline,
    Text,
    plain,
    printable,
)

FONT = "DejaVu Sans Mono"
#: On a page: screen pixels for one mm of line weight, and the width of the invisible line that takes the finger.
PX_PER_MM = 3.6
HIT_PX = 28

#: Drawn smaller than full size, a line may be so far off on the paper: a fortieth of the finest line's weight.
THIN_MM = 0.003

#: On a page the same, as a share of its longer side: a quarter of a pixel on a wide screen, enlarged eight times. The
#: invisible line under the finger follows as nearly as a finger can tell.
THIN_SHARE = 1 / 40_000
HIT_SHARE = 1 / 1_500

_ANCHOR = {"left": "start", "middle": "middle", "right": "end"}


def to_svg(drawing: Drawing, *, one_to: float = 1.0, margin_mm: float = 0.0, bounds: Bounds | None = None) -> str:
    """Return `drawing` as SVG text in mm of paper, at full size or at 1:`one_to`.

    Parameters
    ----------
    drawing : Drawing
        Full size, y up.
    one_to : float
        Drawn 1:`one_to`; line weights stay as they are on paper. At full size every point is written; smaller, those
        within `THIN_MM` of the line on paper are left out.
    margin_mm : float
        Empty paper round the drawing [mm of paper].
    bounds : Bounds, optional
        The part to be drawn, full size, in place of the drawing's own bounds.

    Returns
    -------
    str
        `width` and `height` in mm, a viewBox of the same figures without unit; 1 unit is 1 mm of paper.
    """
    k = 1.0 / one_to
    left, bottom, right, top = bounds or drawing.bounds
    width, height = (right - left) * k + 2 * margin_mm, (top - bottom) * k + 2 * margin_mm
    thin_mm, decimals = (0.0, 4) if one_to == 1 else (THIN_MM, 3)
    pen = _Pen(k, margin_mm - left * k, margin_mm + top * k, decimals=decimals, page=False, thin_mm=thin_mm)
    size = f'width="{_n(width, 4)}mm" height="{_n(height, 4)}mm" viewBox="0 0 {_n(width, 4)} {_n(height, 4)}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{_head(drawing)}{pen.draw(drawing.items)}</svg>'


def page_svg(drawing: Drawing, *, margin: float = 0.02, css_class: str = "drawing", ground: bool = False) -> str:
    """Return `drawing` as inline SVG that fills its place on a page, selectable where an item has a link.

    Line weights hold at any zoom; each layer is a group of class `ly ly-<layer-name>`; a linked item is an `<a>` of
    class `pick` with a wide invisible line under the finger. `margin` is a share of the longer side.
    """
    left, bottom, right, top = drawing.bounds
    pad = margin * max(right - left, top - bottom)
    width, height = right - left + 2 * pad, top - bottom + 2 * pad
    longer = max(width, height)
    decimals = max(0, 4 - int(np.floor(np.log10(max(longer, 1.0)))))
    pen = _Pen(1.0, pad - left, pad + top, decimals=decimals, page=True, thin_mm=longer * THIN_SHARE)
    linked = any(getattr(item, "link", "") for item in drawing.items)
    name = quoteattr(printable(drawing.title) or "drawing")
    larger = drawing.times or (1.0, 1.0)
    times = "" if larger == (1.0, 1.0) else f' data-times="{larger[0]:g} {larger[1]:g}"'
    paper = f'<rect width="{_n(width, 1)}" height="{_n(height, 1)}" fill="{PAPER}"/>' if ground else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class={quoteattr(css_class)} '
        f'viewBox="0 0 {_n(width, decimals)} {_n(height, decimals)}" '
        f'preserveAspectRatio="xMidYMid meet" role="{"group" if linked else "img"}" aria-label={name}{times}>'
        f"{paper}{pen.draw(drawing.items)}</svg>"
    )


class _Pen:
    """Writes items as SVG: x' = k x + dx, y' = dy - k y."""

    def __init__(self, k: float, dx: float, dy: float, *, decimals: int, page: bool, thin_mm: float = 0.0) -> None:
        self.k, self.dx, self.dy, self.decimals, self.page, self.thin_mm = k, dx, dy, decimals, page, thin_mm
        self.fixed = ' vector-effect="non-scaling-stroke"' if page else ""

    def draw(self, items: tuple[Item, ...]) -> str:
        order = {name: n for n, name in enumerate(LAYERS)}
        ranked = sorted(items, key=lambda item: order[item.layer])
        return "".join(self._layer(LAYERS[name], list(group)) for name, group in groupby(ranked, lambda i: i.layer))

    def _layer(self, layer: Layer, items: list[Item]) -> str:
        unit = PX_PER_MM if self.page else 1.0
        colour = COLOURS[layer.role]
        dash = " ".join(_n(d * unit, 2) for d in layer.pattern_mm)
        style = f'fill="none" stroke="{colour}" stroke-width="{_n(max(layer.weight_mm, 0.18) * unit, 2)}"'
        style += ' stroke-linecap="round" stroke-linejoin="round"' if not dash else f' stroke-dasharray="{dash}"'
        body = "".join(self._item(item, colour) for item in items)
        return f'<g class="ly ly-{layer.slug}" {style}>{body}</g>'

    def _item(self, item: Item, colour: str) -> str:
        if isinstance(item, Hatch):
            shapes = self._hatch(item)
        else:
            shapes = "".join(self._shape(part, colour) for part in plain(item))
        link, title = getattr(item, "link", ""), printable(getattr(item, "title", ""))
        named = f"<title>{escape(title)}</title>" if title else ""
        if not (link and self.page):
            if not named or not self.page:
                return shapes
            if shapes.count("<") == 1:  # one shape carries its own name
                return f"{shapes.removesuffix('/>')}>{named}</{shapes[1 : shapes.index(' ')]}>"
            return f"<g>{named}{shapes}</g>"
        label = f" aria-label={quoteattr(title)}" if title else ""
        return f'<a class="pick" href={quoteattr(_safe(link))}{label}>{named}{self._hit(item)}{shapes}</a>'

    def _hit(self, item: Item) -> str:
        style = f'class="hit" stroke="#000" stroke-opacity="0" stroke-width="{HIT_PX}" stroke-dasharray="none"'
        style += ' pointer-events="stroke"' + self.fixed
        if isinstance(item, (Polyline, Line)):
            at = thinned(self._on_paper(_points(item)), self.thin_mm * HIT_SHARE / THIN_SHARE)
            return f'<path d="{self._written(at, "L")}{"Z" if getattr(item, "closed", False) else ""}" {style}/>'
        if isinstance(item, Text):
            return f'<path d="{self._path(item.corners(), True)}" {style.replace("stroke", "stroke", 1)}/>'
        if isinstance(item, Circle):
            x, y = self._xy(item.at)
            return f'<path d="M{x} {y}h0" stroke-linecap="round" {style}/>'
        return ""

    def _shape(self, part: Polyline | Line | Circle | Text, colour: str) -> str:
        match part:
            case Line():
                (x, y), (to_x, to_y) = self._xy(part.start), self._xy(part.end)
                return f'<path d="M{x} {y}L{to_x} {to_y}"{self.fixed}/>'
            case Polyline():
                return f'<path d="{self._path(part.points, part.closed)}"{self.fixed}/>'
            case Circle():
                (x, y), r = self._xy(part.at), _n(part.radius_mm * self.k, self.decimals + 1)
                fill = f' fill="{colour}"' if part.filled else ""
                return f'<circle cx="{x}" cy="{y}" r="{r}"{fill}{self.fixed}/>'
            case Text():
                return self._text(part, colour)

    def _hatch(self, hatch: Hatch) -> str:
        """All lines of a hatching as one path: a tenth of the work for whoever reads the drawing."""
        lines = hatch.lines()
        if not len(lines):
            return ""
        return f'<path d="{self._written(self._on_paper(lines.reshape(-1, 2)), "L", "M")}"{self.fixed}/>'

    def _text(self, text: Text, colour: str) -> str:
        x, y = self._xy(text.foot)
        turn = f' transform="rotate({_n(-text.angle_deg, 3)} {x} {y})"' if text.angle_deg % 360 else ""
        size = _n(text.height_mm * self.k / CAPITAL_EM, self.decimals + 1)
        anchor = f' text-anchor="{_ANCHOR[text.align]}"' if text.align != "left" else ""
        return (
            f'<text x="{x}" y="{y}" font-family="{FONT}, monospace" font-size="{size}" fill="{colour}" stroke="none"'
            f' stroke-dasharray="none"{anchor}{turn}>{escape(printable(text.text))}</text>'
        )

    def _xy(self, p: tuple[float, float]) -> tuple[str, str]:
        return (
            _n(self.k * p[0] + self.dx, self.decimals),
            _n(self.dy - self.k * p[1], self.decimals),
        )

    def _path(self, points: Array, closed: bool) -> str:
        at = self._on_paper(points)
        return self._written(thinned(at, self.thin_mm) if self.thin_mm else at, "L") + ("Z" if closed else "")

    def _on_paper(self, points: Array) -> Array:
        return np.asarray(points, dtype=float) * (self.k, -self.k) + (self.dx, self.dy)

    def _written(self, at: Array, *joints: str) -> str:
        """Moves and lines through the points: M, then `joints` by turns."""
        pair = f"%.{self.decimals}f %.{self.decimals}f "
        run = "".join([sign + pair for sign in joints])
        rounds, over = divmod(len(at) - 1, len(joints))
        path = f"M{pair}{run * rounds}{''.join(sign + pair for sign in joints[:over])}"
        path %= tuple((np.round(at, self.decimals) + 0.0).ravel().tolist())
        if self.decimals:  # noughts that end a figure, and the point before them
            for _ in range(self.decimals):
                path = path.replace("0 ", " ")
            path = path.replace(". ", " ")
        for sign in joints:
            path = path.replace(f" {sign}", sign)
        return path.rstrip()


def thinned(points: Array, off_mm: float) -> Array:
    """Leave out points that lie within `off_mm` of the straight line between those left, by halves of up to sixteen.

    Examples
    --------
    >>> thinned(np.column_stack([np.arange(9.0), [0, 0, 0, 0, 0, 0, 0, 0, 5]]), 0.01).tolist()
    [[0.0, 0.0], [4.0, 0.0], [6.0, 0.0], [7.0, 0.0], [8.0, 5.0]]
    """
    count = len(points)
    if count < 3:
        return points
    keep = np.ones(count, dtype=bool)
    for step in (2, 4, 8, 16):
        blocks = (count - 1) // step
        if not blocks:
            break
        first = points[0 : blocks * step : step, None]
        along = points[step : blocks * step + 1 : step, None] - first
        between = points[: blocks * step].reshape(blocks, step, 2) - first
        length = np.maximum(np.hypot(along[..., 0], along[..., 1]), 1e-12)
        off = np.abs(along[..., 0] * between[..., 1] - along[..., 1] * between[..., 0]) / length
        past = (between * along).sum(axis=-1) / length
        straight = ((off <= off_mm) & (past >= 0) & (past <= length)).all(axis=1)
        inner = np.zeros((blocks, step), dtype=bool)
        inner[:, 1:] = straight[:, None]
        keep[: blocks * step] &= ~inner.ravel()
    return points[keep]


def _points(item: Polyline | Line) -> Array:
    return item.points if isinstance(item, Polyline) else np.array([item.start, item.end], dtype=float)


def _head(drawing: Drawing) -> str:
    title = printable(drawing.title)
    return f"<title>{escape(title)}</title>" if title else ""


def _n(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _safe(link: str) -> str:
    if urlsplit(link).scheme not in ("", "http", "https"):
        raise BadGeometry(
            f"a drawing's link: found {printable(link)!r}; only paths of these pages and http(s) are used."
        )
    return link
