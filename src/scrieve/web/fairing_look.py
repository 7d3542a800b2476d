"""What the Fairing page is asked to show: which view, how much larger than life, what is drawn; each choice a link."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Literal
from urllib.parse import parse_qsl, urlencode, urlsplit

Show = Literal["body", "diagonals", "sides"]

#: How much larger than life departures can be drawn; 0 leaves it to the drawing.
TIMES = (0, 1, 5, 10, 20, 50, 100)
_VIEWS: tuple[tuple[Show, str], ...] = (
    ("body", "Body plan"),
    ("diagonals", "Diagonals"),
    ("sides", "Port and starboard"),
)


@dataclass(frozen=True, slots=True)
class Look:
    """The choices of the Fairing page, as its address states them."""

    show: Show = "body"
    times: int = 0
    marks: bool = True
    bands: bool = True
    combs: bool = False
    places: bool = True

    @property
    def stretch(self) -> float | None:
        """How much larger than life departures are drawn; None: a usual number that fits."""
        return float(self.times) or None

    def path(self, **changes: object) -> str:
        """Address of the page with some choices changed; what is as usual is left out.

        Examples
        --------
        >>> Look().path(), Look(times=20).path(combs=True)
        ('/fairing', '/fairing?times=20&combs=1')
        """
        usual = asdict(Look())
        asked = {
            name: int(value) if isinstance(value, bool) else value
            for name, value in asdict(replace(self, **changes)).items()  # type: ignore[arg-type]
            if value != usual[name]
        }
        return "/fairing" + (f"?{urlencode(asked)}" if asked else "")

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
        times = asked.get("times", "")
        return cls(show, int(times) if times.isascii() and times.isdigit() and len(times) < 4 else 0, **flags)

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
    def layers(self) -> list[tuple[str, str, bool]]:
        """The same of each thing that can be drawn or left out, as far as the view has it."""
        names = {
            "body": (
                ("marks", "marks"),
                ("bands", "± bands"),
                ("combs", "curvature combs"),
                ("places", "measure next"),
            ),
            "diagonals": (("marks", "marks"), ("combs", "curvature combs")),
            "sides": (),
        }[self.show]
        return [
            (words, self.path(**{name: not getattr(self, name)}), bool(getattr(self, name))) for name, words in names
        ]
