"""What the Fairing page is asked to show: which view, how much larger than life, what is drawn; each choice a link."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Literal
from urllib.parse import parse_qsl, urlencode, urlsplit

Show = Literal["body", "frame", "diagonals", "sides"]
By = Literal["", "P", "S"]

#: How much larger than life departures can be drawn; 0 leaves it to the drawing.
TIMES = (0, 1, 5, 10, 20, 50, 100)
#: How long the teeth of curvature combs can be drawn, in hundredths of the usual length.
TEETH = (50, 100, 200, 400)
_VIEWS: tuple[tuple[Show, str], ...] = (
    ("body", "Body plan"),
    ("frame", "One frame"),
    ("diagonals", "Diagonals"),
    ("sides", "Port and starboard"),
)


@dataclass(frozen=True, slots=True)
class Look:
    """The choices of the Fairing page, as its address states them.

    `frame` is the frame enlarged, or the only one of the body plan with a comb; `by` the side whose marks alone are
    faired, '' for both as one; `teeth` the length of a comb's teeth in hundredths of the usual.
    """

    show: Show = "body"
    times: int = 0
    marks: bool = True
    bands: bool = True
    combs: bool = False
    places: bool = True
    frame: str = ""
    by: By = ""
    teeth: int = 100

    @property
    def stretch(self) -> float | None:
        """How much larger than life departures are drawn; None: a usual number that fits."""
        return float(self.times) or None

    @property
    def teeth_times(self) -> float:
        """How much longer than usual the teeth of combs are."""
        return self.teeth / 100

    def path(self, **changes: object) -> str:
        """Address of the page with some choices changed; what is as usual is left out.

        Examples
        --------
        >>> Look().path(), Look(times=20).path(combs=True)
        ('/fairing', '/fairing?times=20&combs=1')
        """
        asked = replace(self, **changes).asked()  # type: ignore[arg-type]
        return "/fairing" + (f"?{urlencode(asked)}" if asked else "")

    def asked(self) -> list[tuple[str, str]]:
        """Return name and value of each choice that is not the usual one."""
        usual = asdict(Look())
        return [
            (name, str(int(value) if isinstance(value, bool) else value))
            for name, value in asdict(self).items()
            if value != usual[name]
        ]

    @classmethod
    def of(cls, path: str) -> Look:
        """Return the choices that an address of the page states; usual ones where it is none, or states none.

        Examples
        --------
        >>> Look.of("/fairing?times=20&combs=1#suspects").path()
        '/fairing?times=20&combs=1'
        """
        parts = urlsplit(path)
        asked = dict(parse_qsl(parts.query)) if parts.path == "/fairing" else {}
        flags = {name: asked[name] == "1" for name in ("marks", "bands", "combs", "places") if name in asked}
        show: Show = next((view for view, _ in _VIEWS if view == asked.get("show")), "body")
        by: By = next((side for side in ("P", "S") if side == asked.get("by")), "")
        times, teeth = (_number(asked.get(name, ""), usual) for name, usual in (("times", 0), ("teeth", 100)))
        return cls(show, times, **flags, frame=asked.get("frame", ""), by=by, teeth=max(teeth, 1))

    @property
    def views(self) -> list[tuple[str, str, bool]]:
        """Name, address, and whether it is the one shown, of each view."""
        return [(name, self.path(show=show), show == self.show) for show, name in _VIEWS]

    @property
    def scales(self) -> list[tuple[str, str, bool]]:
        """The same of each exaggeration."""
        return [
            (f"{times} ×" if times else "to fit", self.path(times=times), times == self.times)
            for times in sorted({*TIMES, self.times})
        ]

    @property
    def tooth_lengths(self) -> list[tuple[str, str, bool]]:
        """The same of each length of a comb's teeth."""
        return [
            (f"{teeth / 100:g} ×", self.path(teeth=teeth), teeth == self.teeth)
            for teeth in sorted({*TEETH, self.teeth})
        ]

    @property
    def sides(self) -> list[tuple[str, str, bool]]:
        """The same of each way of fairing by sides."""
        named: tuple[tuple[By, str], ...] = (("", "both as one"), ("P", "port alone"), ("S", "starboard alone"))
        return [(words, self.path(by=by), by == self.by) for by, words in named]

    @property
    def layers(self) -> list[tuple[str, str, bool]]:
        """The same of each thing that can be drawn or left out, as far as the view has it."""
        names = {
            "body": (
                ("marks", "marks"),
                ("bands", "± bands"),
                ("combs", "curvature combs"),
                ("places", "measure next"),
            ),
            "frame": (("marks", "marks"), ("bands", "± band"), ("combs", "curvature comb")),
            "diagonals": (("marks", "marks"), ("combs", "curvature combs")),
            "sides": (),
        }[self.show]
        return [
            (words, self.path(**{name: not getattr(self, name)}), bool(getattr(self, name))) for name, words in names
        ]


def _number(text: str, usual: int) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 4 else usual
