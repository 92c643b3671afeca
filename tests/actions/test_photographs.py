"""A photograph comes with what it is for, or not at all."""

import pytest

from eke.actions import cloths
from eke.errors import BadInput
from helpers import tunic


def photos(room):
    with room.store.read() as reader:
        return reader.photos()


def test_a_cloth_that_is_refused_leaves_no_photograph(room):
    with pytest.raises(BadInput):
        cloths.add_traced_cloth(room, "curtain", tunic.traced_cloth(), b"picture", weight_gsm=-5.0)
    assert photos(room) == ()


def test_the_kind_of_a_photograph_is_that_of_its_file(room):
    cloths.add_traced_cloth(room, "curtain", tunic.traced_cloth(), b"picture", photo_name="c.HEIC")
    assert [p.media_type for p in photos(room)] == ["image/heic"]
