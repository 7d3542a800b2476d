"""What each role may do: a rule for every address. A form without one is taken from the keeper of the yard only.

look: see everything. bench: enter what was measured and done. lead hand: settle shapes, designs and plans. keeper: the
people, and the boat's own settings.
"""

from __future__ import annotations

from collections.abc import Mapping

from scrieve.store.people import Role

#: What may be sent, by the beginning of its address: the longest that fits holds. None: by everybody.
WRITES: Mapping[str, Role | None] = {
    "/sign-in": None,
    "/sign-out": "look",
    "/me": "look",
    "/people": "keeper",
    "/settings": "keeper",
    "/api/judge": "look",
    "/api/marks": "bench",
    "/api/answers": "bench",
    "/api/log": "bench",
    "/api/jig/setting": "bench",
    "/api/glue-up": "bench",
    "/api/release": "bench",
    "/api/fitted": "bench",
    "/api/plan/work": "bench",
    "/api/frames": "lead hand",
    "/api/planks": "lead hand",
    "/api/choices": "lead hand",
    "/api/jobs": "lead hand",
    "/api/undo": "lead hand",
    "/api/forget": "lead hand",
    "/api/boards": "lead hand",
    "/api/bevels": "bench",
    "/api/readings": "bench",
    "/api/fastenings": "bench",
    "/api/made-from": "lead hand",
    "/api/used": "lead hand",
    "/api/boat": "keeper",
    "/frames/try": "look",
    "/marks/answer": "bench",
    "/marks/again": "bench",
    "/marks/new": "bench",
    "/marks/file": "bench",
    "/marks/bevels": "bench",
    "/fairing/made-from": "lead hand",
    "/frames/design": "lead hand",
    "/glue-up/sheet": "lead hand",
    "/glue-up/plan": "bench",
    "/glue-up/sign": "bench",
    "/glue-up/done": "bench",
    "/glue-up/cure": "bench",
    "/jig/bed": "lead hand",
    "/jig/setting": "bench",
    "/jig/bench": "bench",
    "/jig/order": "lead hand",
    "/log": "bench",
    "/planks": "lead hand",
    "/release/store": "bench",
    "/release/shop": "lead hand",
    "/release/fastenings": "bench",
    "/release/fitted": "bench",
    "/timber": "lead hand",
    "/undo": "lead hand",
    "/forget": "lead hand",
    "/plan": "lead hand",
    "/plan/work": "bench",
}
#: What may be seen, where it is not seen by everybody who is signed in.
READS: Mapping[str, Role | None] = {
    "/sign-in": None,
    "/static": None,
    "/here": None,
    "/away": None,
    "/trust": None,
    "/worker.js": None,
    "/manifest.webmanifest": None,
    "/icon": None,
    "/people": "keeper",
}


def rule(method: str, path: str) -> Role | None:
    """Return the least role that an address is answered to; None for everybody, signed in or not.

    Examples
    --------
    >>> rule("GET", "/frames/14"), rule("POST", "/marks/answer"), rule("POST", "/frames/design")
    ('look', 'bench', 'lead hand')
    >>> rule("GET", "/sign-in"), rule("GET", "/people"), rule("POST", "/not-known")
    (None, 'keeper', 'keeper')
    """
    rules, other = (READS, "look") if method in ("GET", "HEAD") else (WRITES, "keeper")
    fits = [each for each in rules if path == each or path.startswith(each + "/")]
    return rules[max(fits, key=len)] if fits else other  # type: ignore[return-value]
