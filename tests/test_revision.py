"""The revision: the same for the same inputs, another for any other."""

import math
import string
from dataclasses import dataclass, replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from scrieve.revision import revision

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4),
    max_leaves=12,
)


def turned(value):
    """Return the same value with every mapping in the other order."""
    if isinstance(value, dict):
        return {key: turned(value[key]) for key in reversed(value)}
    return [turned(item) for item in value] if isinstance(value, list) else value


@dataclass(frozen=True)
class Setting:
    """Something with fields."""

    name: str
    size_mm: float
    marks: tuple[float, ...] = ()


@given(PLAIN)
def test_the_order_of_keys_does_not_matter(value):
    assert revision(value) == revision(turned(value))


@given(PLAIN)
def test_eight_capitals_of_the_hexadecimal_digits(value):
    text = revision(value)
    assert len(text) == 8
    assert set(text) <= set(string.digits + "ABCDEF")


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_floats_are_exact(value):
    assert revision(value) == revision(float(repr(value)))
    assert revision(value) != revision(math.nextafter(value, math.inf))
    assert revision([value]) == revision(np.array([value])) == revision((value,))


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=6, unique=True))
def test_the_order_of_values_matters(values):
    assert revision(values) != revision(values[::-1])


@given(st.text(max_size=6), st.text(max_size=6))
def test_what_stands_side_by_side_is_kept_apart(a, b):
    assert revision(a, b) != revision(a + b)
    assert revision(a, b) == revision(*[a, b])
    assert (revision(a, b) == revision(b, a)) == (a == b)


def test_kinds_of_nothing_differ():
    assert len({revision(value) for value in (None, 0, 0.0, "", "0", False, [], {}, [[]])}) == 9


def test_every_field_of_a_dataclass_counts():
    first = Setting("a", 1.0, (2.0,))
    assert revision(first) == revision(replace(first))
    others = [replace(first, name="b"), replace(first, size_mm=1.5), replace(first, marks=(2.0, 3.0))]
    assert len({revision(one) for one in (first, *others)}) == 4


def test_it_does_not_hang_on_the_process():
    """A fixed value: SHA-256 of the JSON text of the inputs, by the hashing tool of any system."""
    # printf '[{"a":1}]' | sha256sum
    assert revision({"a": 1}) == SHA_OF_A_1


SHA_OF_A_1 = "B713F6D2"
