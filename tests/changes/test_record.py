from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.changes import Record, canonical, child_id, plain, record_from_json, record_to_json
from eke.errors import BadInput

# st.text() leaves out surrogates only when told so; half of one cannot be stored anywhere
TEXT = st.text(st.characters(exclude_categories=("Cs",)))
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4),
    max_leaves=12,
)


def test_child_ids_are_pinned_for_ever():
    # These values may never change: stored histories of every release depend on them.
    # Made by: printf '["edge-1","c0ffee","left"]' | sha256sum
    assert child_id("edge-1", "c0ffee", "left") == "326399ebde4d058d"
    assert child_id("", "c0ffee") == child_id("", "c0ffee", "")


@given(st.lists(st.tuples(TEXT, TEXT, TEXT), unique=True, max_size=30))
def test_child_ids_differ_whenever_anything_differs(triples):
    assert len({child_id(*one) for one in triples}) == len(triples)


def test_params_are_copied_and_made_plain():
    inner = [1.0, (2, 3)]
    record = Record("a", None, "k", 1, {"x": inner, "n": np.float64(0.5), "p": np.array([[1, 2], [3, 4]])})
    inner.append("later")
    assert record.params == {"x": [1.0, [2, 3]], "n": 0.5, "p": [[1, 2], [3, 4]]}
    assert type(record.params["n"]) is float
    assert type(record.params["p"][0][0]) is int


@pytest.mark.parametrize(
    ("bad", "word"),
    [
        (float("nan"), "finite"), (float("-inf"), "finite"), (np.float32("inf"), "finite"),
        ({1: 2}, "no text"), (b"x", "bytes"), ({"a": {2, 3}}, "set"), ("\ud800", "half a character"),
    ],
)  # fmt: skip
def test_what_is_not_json_is_refused_with_its_place(bad, word):
    with pytest.raises(BadInput, match=rf"params\.deep.*{word}"):
        Record("a", None, "k", 1, {"deep": bad})


@pytest.mark.parametrize(
    "facts",
    [("", None, "k", 1, {}), ("a", "a", "k", 1, {}), ("a", None, "", 1, {}), ("a", None, "k", 0, {}),
     ("a", None, "k", True, {}), ("a", None, "k", 1, [1]), ("a", "", "k", 1, {}), ("a", None, "k", 1, {}, None)],
)  # fmt: skip
def test_a_record_must_make_sense(facts):
    with pytest.raises(BadInput):
        Record(*facts)


@given(JSON)
def test_a_record_survives_json_exactly(value):
    record = Record("a", "b", "k.l", 3, {"v": value}, "note", "2026-01-02T03:04:05Z", "0.1")
    back = record_from_json(json.loads(json.dumps(record_to_json(record))))
    assert back == record
    assert canonical(back.params) == canonical(record.params)  # tells 1 from 1.0 and from true
    assert plain(record.params) == record.params


def test_json_names_what_is_missing():
    with pytest.raises(BadInput, match="kind, params"):
        record_from_json({"id": "a", "version": 1})
    with pytest.raises(BadInput, match="no JSON table"):
        record_from_json(["a"])


def test_records_can_be_put_in_sets():
    assert len({Record("a", None, "k", 1, {}), Record("a", None, "k", 1, {})}) == 1
