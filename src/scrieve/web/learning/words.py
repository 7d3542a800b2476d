"""The words of the trade as these pages use them: what each means, and where it is met. Facts: common knowledge of the
trade; figures stand with their sources where they are used, not here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Word:
    """One word: what it means, a page where it is met, and words that belong with it."""

    name: str
    means: str
    page: str = ""
    see: tuple[str, ...] = ()

    @property
    def anchor(self) -> str:
        """Its place on the page of words.

        Examples
        --------
        >>> Word("under bevel", "").anchor
        'under-bevel'
        """
        return self.name.replace(" ", "-")


#: By the part of the work.
WORDS: Mapping[str, tuple[Word, ...]] = {
    "Taking off and lines": (
        Word(
            "offset", "A height or a half-breadth: where a point of the hull lies, told from the datum lines.", "/marks"
        ),
        Word("mark", "A point of the hull as it was taken off, by whatever way.", "/marks"),
        Word(
            "datum",
            "The line or plane that all measures start from. It must not move while the work lasts.",
            "/marks/new",
        ),
        Word("baseline", "A level datum below the keel; heights are counted up from it."),
        Word(
            "station", "The place along the hull where a section is recorded, counted aft from the datum.", "/fairing"
        ),
        Word("half-breadth", "How far the hull lies out from the centreline, on one side."),
        Word("girth", "Length along the line of a section, as a tape laid round it reads.", "/fairing"),
        Word("section", "The hull cut square across at a station: the line to which a frame is shaped.", "/fairing"),
        Word(
            "body plan",
            "All sections on one drawing, seen end on: forward ones on one side, after ones on the other.",
            "/fairing",
        ),
        Word(
            "diagonal",
            "A line in which a sloping plane cuts the hull, drawn out flat. It meets the frames nearly square, "
            "so that unfairness shows on it first.",
            "/fairing?show=diagonals",
        ),
        Word("waterline", "A line in which a level plane cuts the hull."),
        Word("sheer", "The line of the hull's upper edge."),
        Word("rabbet", "The groove in keel, stem and sternpost that takes the planks' edges and ends."),
        Word("turn of the bilge", "Where bottom goes over into side: the tightest curve of a section."),
        Word("knuckle", "An angle in a line that is meant to be there, and is not faired away."),
    ),
    "Fairing": (
        Word(
            "fair", "Without hollows or lumps that do not belong: curvature changes gently along the line.", "/fairing"
        ),
        Word(
            "batten",
            "A long springy strip that lies fair by itself when it is held at a few points; the way to draw or "
            "to try a curve.",
            "/fairing",
            ("fair",),
        ),
        Word(
            "suspect",
            "A mark that all others speak against. It has no say until it is kept or measured again.",
            "/fairing",
        ),
        Word("band", "How far the line may lie from where it is drawn: two standard deviations either way."),
        Word(
            "comb",
            "Teeth square to a line, each as long as the line is curved there: a kink shows as a step.",
            "/fairing?combs=1",
        ),
    ),
    "Frames": (
        Word(
            "frame pair",
            "The two halves, port and starboard, of one frame; laminated as one wide blank and ripped apart.",
            "/frames",
        ),
        Word("sided", "The size of a frame fore and aft.", "/frames", ("moulded",)),
        Word(
            "moulded",
            "The size of a frame in and out; the moulded line is the outside of it, to which the planking lies.",
            "/frames",
            ("sided",),
        ),
        Word(
            "bevel",
            "How far an edge leans from square, so that it lies flat against planking that runs in or out going aft.",
            "/frames",
            ("standing bevel", "under bevel"),
        ),
        Word("standing bevel", "A bevel wider than square: the wood stands outside the moulded line."),
        Word("under bevel", "A bevel closer than square: wood comes off inside the moulded line."),
        Word("bevel board", "A strip on which the bevels are drawn, one for each numbered mark."),
        Word("heel and head", "The lower and the upper end of a frame."),
        Word("hand", "Port or starboard, marked on each half so that the two are never mixed up."),
        Word("lamination", "One of the thin strips that are glued to make a frame.", "/frames", ("springback",)),
        Word("blank", "The glued packet of laminations before it is ripped, bevelled and cleaned off."),
        Word(
            "springback",
            "The share of its bend that a glued packet loses when it comes off the jig. More and thinner "
            "laminations lose less; the jig is bent so much further.",
            "/release",
            ("overbend", "lamination"),
        ),
        Word("overbend", "The curve put into the jig beyond that of the frame, to meet springback.", "/jig"),
        Word("scarf", "Two ends cut to a long slope and glued, so that short stock makes a long piece."),
        Word("floor", "The timber across the keel that ties the two halves of a frame together."),
        Word("limber hole", "A passage low down in a frame or floor that lets water run to the pump."),
        Word("sister frame", "A second frame fastened beside one that is damaged."),
        Word("faying surface", "A face that lies against another member."),
    ),
    "The jig": (
        Word("jig", "The bed on which a packet is bent: rails square to a datum line, with a bracket on each.", "/jig"),
        Word("rail", "A bar of the bed along which a bracket slides out from the datum line."),
        Word(
            "bracket",
            "A stop that can be set out and swivelled; the packet is pulled against it.",
            "/jig",
            ("travel", "swivel"),
        ),
        Word("travel", "How far out from the datum line a bracket stands."),
        Word("swivel", "How far a bracket is turned from square to its rail, to lie flat against the packet."),
        Word("caul", "A piece under the clamps that spreads their force."),
        Word(
            "dry run",
            "Everything laid up and clamped without glue, by the clock, before any glue is mixed.",
            "/glue-up",
        ),
        Word("open time", "How long spread glue may lie before the joint is closed.", "/glue-up", ("pot life",)),
        Word(
            "pot life", "How long mixed glue can be used in its pot: less in the warm, less in a large pot.", "/glue-up"
        ),
        Word(
            "dew point",
            "The temperature at which water settles out of the air. Timber must be warmer than that when it is glued.",
            "/glue-up",
        ),
        Word("hold point", "A place in the work where it stops until somebody has looked and signed.", "/plan"),
        Word(
            "spall", "A temporary brace across the hull that keeps her shape while frames are out.", "/plan", ("shore",)
        ),
        Word("shore", "A prop under or against the hull that carries her while members are out.", "/plan", ("spall",)),
    ),
    "Planking": (
        Word("strake", "One whole line of planking from end to end, of one plank or several.", "/planks/lining"),
        Word("garboard", "The strake next to the keel; the one next above it is the broad strake.", "/planks"),
        Word(
            "lining off",
            "Settling how strakes run over the frames, and how wide each is at each of them.",
            "/planks/lining",
        ),
        Word("seam", "The joint between two strakes."),
        Word(
            "butt",
            "The square joint between two planks of one strake; a block behind it takes both ends.",
            "/planks/lining",
        ),
        Word("hood end", "The end of a plank that stands in the rabbet of stem or sternpost."),
        Word(
            "stealer",
            "A short strake that ends within the run, where there is no room for all to go on; its squared-off "
            "point is the nib.",
            "/planks/lining",
        ),
        Word("shutter plank", "The plank fitted last, that closes the shell."),
        Word("spiling", "Finding the flat shape of a plank from what is measured in place on a thin board.", "/planks"),
        Word("expansion", "The same from the fair hull: the strake laid out flat with the least strain.", "/planks"),
        Word(
            "edge-set",
            "Forcing a plank sideways into place. A little is usual; much of it splits planks or lifts frames.",
            "/planks",
        ),
        Word("backing out", "Hollowing the inside of a plank so that it lies close on round frames.", "/planks"),
        Word("outgauge", "How much wider a seam is at the outside than at the inside, to take caulking."),
        Word("carvel", "Planking edge to edge, flush outside, with caulked seams."),
        Word("clinker", "Planking whose edges lap."),
        Word("double diagonal", "Two skins of thin planks laid aslant and crossing."),
        Word("bung", "A disc of wood that fills the hole over a fastening."),
        Word("wany edge", "The edge of a board as the tree grew, often with bark and sapwood.", "/timber"),
    ),
    "Sheets and records": (
        Word(
            "revision",
            "The short code by which a sheet tells what it was made from. Another code now: the sheet is out of date.",
            "/sheets",
        ),
        Word(
            "check-square",
            "A square of 100 mm on every print, measured both ways before anything is cut by it: a printer that fits "
            "to the page makes a small hull.",
            "/sheets",
        ),
        Word(
            "tick-strip",
            "A strip with the places of frames and marks ticked along its edge, laid along the timber to set them out.",
            "/sheets",
        ),
        Word(
            "act",
            "One thing done to the boat's file, by whom and when. It can be taken back; it is never lost.",
            "/log",
        ),
    ),
}
BY_NAME: Mapping[str, Word] = {word.name: word for group in WORDS.values() for word in group}


def anchor(name: str) -> str:
    """Return the address of a word.

    Raises
    ------
    KeyError
        It is not among the words.

    Examples
    --------
    >>> anchor("edge-set")
    '/words#edge-set'
    """
    return f"/words#{BY_NAME[name].anchor}"
