"""The API under requests drawn from its own OpenAPI document: whatever is sent, it never falls over.

schemathesis draws values within and beside the document's schemas; its check is that no answer is a 5xx, except the 503
of a hull that is being faired.
"""

from __future__ import annotations

import schemathesis
from boats import HOME, client_of, make_small, ready
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from scrieve.web import create_app
from scrieve.web.api_document import document

#: Requests in all; each costs some 20 ms of this program and more of theirs.
CASES = 120


def test_no_request_makes_it_fall_over(tmp_path):
    app = ready(create_app(make_small(tmp_path / "small.scrieve")))
    schema = schemathesis.openapi.from_dict(document())
    operations = [found.ok() for found in schema.get_all_operations()]
    assert len(operations) > 30
    drawn = st.one_of(*(operation.as_strategy() for operation in operations))
    fell: list[str] = []
    answered: set[int] = set()
    with client_of(app) as client:
        client.headers["origin"] = HOME

        @settings(
            max_examples=CASES, database=None, deadline=None, derandomize=True, phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(drawn)
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
