"""The API under requests drawn from its own OpenAPI document: whatever is sent, it never falls over.

schemathesis draws values within and beside the document's schemas; half of the time a frame or setting that there is
takes the place of one drawn, so that what lies behind the first refusal is reached too. No answer may be a 5xx but
the 503 of a hull that is being faired.
"""

from __future__ import annotations

from dataclasses import fields

import schemathesis
from boats import HOME, client_of, make_small, ready
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.bed import JigBed
from scrieve.planking import LiningChoice, StrakeChoice
from scrieve.web import create_app
from scrieve.web.api.document import document

#: Requests in all; each costs some 20 ms of this program and more of theirs.
CASES = 100

THERE = {"frame": "3", "label": "3", "at": "3", "member": "frame 3", "side": "port", "op": "frame 3: shore"}
NAMES = {
    "/api/frames": [each.name for each in fields(FrameChoice)],
    "/api/planks": [each.name for each in fields(StrakeChoice)],
    "glue": ["own", "source"],
    "jig": [each.name for each in fields(JigBed)],
    "lining": [each.name for each in fields(LiningChoice)],
    "board": ["length_mm", "thickness_mm", "top", "defects"],
}
VALUES = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 3000), st.sampled_from([0.5, 1e300, -0.0, "", "larch", "3", "square"]),
    st.lists(st.one_of(st.integers(-9, 900), st.sampled_from(["3", {"value_mm": 100, "frame": "3"}, [1, 0.2]])),
             max_size=3),
    st.dictionaries(st.sampled_from(["first", "value_mm", "pot_life_min"]), st.integers(0, 50), max_size=2),
)  # fmt: skip


@st.composite
def requests_(draw, operations):
    case = draw(st.one_of(*operations))
    if draw(st.booleans()):
        if isinstance(case.body, dict) and case.path == "/api/choices":
            case.body["part"] = draw(st.sampled_from(["glue", "jig", "lining", "board"]))
        for held in (case.query, case.body):
            if isinstance(held, dict):
                held.update({name: value for name, value in THERE.items() if name in held})
                if case.path == "/api/choices":
                    held["name"] = {"jig": "bed", "glue": "epoxy", "lining": "port"}.get(str(held.get("part")), "B1")
                if "choice" in held:
                    held["choice"] = draw(
                        st.dictionaries(st.sampled_from(NAMES[str(held.get("part", case.path))]), VALUES, max_size=3)
                    )
    return case


def test_no_request_makes_it_fall_over(tmp_path):
    app = ready(create_app(make_small(tmp_path / "small.scrieve")))
    schema = schemathesis.openapi.from_dict(document())
    operations = [found.ok() for found in schema.get_all_operations()]
    often = [each for each in operations if each.path in ("/api/frames", "/api/planks", "/api/choices")] * 4
    assert len(operations) > 30
    fell: list[str] = []
    answered: set[int] = set()
    with client_of(app) as client:
        client.headers["origin"] = HOME
        assert client.post("/api/frames", json={"label": "3", "choice": {}}).status_code == 200

        @settings(
            max_examples=CASES, database=None, deadline=None, derandomize=True, phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(requests_([each.as_strategy() for each in [*operations, *often]]))
        def send(case):
            ready(app)  # a mark stored has the hull faired anew
            how = case.as_transport_kwargs(base_url=HOME)
            reply = client.request(**{name: how[name] for name in ("method", "url", "headers", "json", "data", "params")
                                      if how.get(name) is not None})  # fmt: skip
            answered.add(reply.status_code)
            if reply.status_code >= 500 and reply.status_code != 503:
                fell.append(f"{case.method} {reply.url}\n{how.get('json', how.get('data'))!r}\n{reply.text}")

        send()
    assert not fell, "\n\n".join(fell[:5])
    assert {200, 422} <= answered
