"""People of a store: hashed, told apart, let in, sent away; checked against argon2's own verifier."""

from datetime import UTC, datetime, timedelta

import pytest
from argon2 import PasswordHasher
from sqlalchemy import select, update

from scrieve.errors import ScrieveError
from scrieve.store import people, schema
from scrieve.store.place import Place

WORDS = "larch knee bevel"


@pytest.fixture(params=["file", "server"])
def where(request, tmp_path):
    """A store of its own for each test: people are those of the whole store."""
    if request.param == "file":
        return Place(str(tmp_path / "a.boat"))
    return Place(request.getfixturevalue("server").fresh(), "merganser")


def test_a_password_is_kept_as_its_argon2id_hash_only(engine):
    people.add_person(engine, "Ada", "keeper", WORDS)
    with engine.connect() as db:
        kept = db.execute(select(schema.people.c.password)).scalar_one()
    assert kept.startswith("$argon2id$")
    assert WORDS not in kept
    assert PasswordHasher().verify(kept, WORDS)


def test_only_the_right_password_of_somebody_who_has_not_left_is_known(engine):
    people.add_person(engine, "Ada", "keeper", WORDS)
    people.add_person(engine, "Bo", "bench", WORDS)
    assert people.known(engine, "ada ", WORDS).name == "Ada"
    assert people.known(engine, "Ada", WORDS + "!") is None
    assert people.known(engine, "nobody", WORDS) is None
    people.change_person(engine, "Bo", active=False)
    assert people.known(engine, "Bo", WORDS) is None


@pytest.mark.parametrize(
    ("name", "role", "password", "told"),
    [
        ("ADA", "bench", WORDS, "called"),
        ("", "bench", WORDS, "name"),
        ("Bo", "admiral", WORDS, "look, bench, lead hand, keeper"),
        ("Bo", "bench", "short", "10 to 200"),
        ("Bo", "bench", "a" * 20, "plain"),
    ],
)
def test_what_is_unfit_is_refused_and_nothing_kept(engine, name, role, password, told):
    people.add_person(engine, "Ada", "keeper", WORDS)
    with pytest.raises(ScrieveError, match=told):
        people.add_person(engine, name, role, password)
    assert [each.name for each in people.people(engine)] == ["Ada"]


def test_the_last_keeper_cannot_go(engine):
    people.add_person(engine, "Ada", "keeper", WORDS)
    for change in ({"role": "look"}, {"active": False}):
        with pytest.raises(ScrieveError, match="no keeper"):
            people.change_person(engine, "Ada", **change)
    assert people.people(engine)[0].may("keeper")


def test_a_role_holds_those_before_it():
    held = [[people.Person(1, "A", role, True, False).may(other) for other in people.ROLES] for role in people.ROLES]
    assert held == [[i >= j for j in range(4)] for i in range(4)]


def test_a_sitting_ends_when_got_up_from_when_old_and_with_a_new_password(engine):
    ada = people.add_person(engine, "Ada", "keeper", WORDS)
    tokens = [people.sit_down(engine, ada) for _ in range(4)]
    assert people.sitting(engine, tokens[0]) == ada
    assert people.sitting(engine, tokens[0] + "x") is None
    people.get_up(engine, tokens[0])
    assert people.sitting(engine, tokens[0]) is None
    old = (datetime.now(UTC) - people.IDLE - timedelta(minutes=1)).isoformat(timespec="seconds")
    with engine.begin() as db:
        seat = schema.sittings.c
        db.execute(update(schema.sittings).where(seat.digest == people._digest(tokens[1])).values(seen=old))
    assert people.sitting(engine, tokens[1]) is None
    assert people.sitting(engine, tokens[2]) == ada
    people.change_person(engine, "Ada", password="another set of words")
    assert people.sitting(engine, tokens[2]) is None


def test_the_store_holds_no_token(engine, tmp_path):
    token = people.sit_down(engine, people.add_person(engine, "Ada", "keeper", WORDS))
    engine.dispose()
    held = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    assert token.encode() not in held
    assert WORDS.encode() not in held


def test_a_pin_signs_for_its_own_person_only(engine):
    people.add_person(engine, "Ada", "keeper", WORDS)
    people.add_person(engine, "Bo", "bench", WORDS)
    people.change_person(engine, "Bo", pin="4711")
    assert people.signs(engine, "Bo", "4711")
    assert not people.signs(engine, "Bo", "4712")
    assert not people.signs(engine, "Ada", "4711")
    assert not people.signs(engine, "Ada", "")
    with pytest.raises(ScrieveError, match="4 to 12"):
        people.change_person(engine, "Bo", pin="12a4")


def test_the_signing_key_is_made_once(engine):
    assert people.signing_key(engine) == people.signing_key(engine)
    assert len(people.signing_key(engine)) == 32
