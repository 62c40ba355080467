"""The tags are those that OpenCV knows."""

from __future__ import annotations

import cv2
import numpy as np

from fleet.charts.tags import modules_of, page_and_corner, tag_id

DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)


def test_tags_are_those_of_the_predefined_dictionary() -> None:
    # OpenCV's DICT_4X4_100, drawn by OpenCV itself.
    for page in range(1, 13):
        for corner in range(4):
            drawn = DICTIONARY.generateImageMarker(tag_id(page, corner), 6)

            assert np.array_equal(np.array(modules_of(page, corner)), drawn == 0)


def test_ids_tell_page_and_corner() -> None:
    ids = {tag_id(page, corner): (page, corner) for page in range(1, 13) for corner in range(4)}

    assert (min(ids), max(ids), len(ids)) == (0, 91, 48)
    assert {tag: page_and_corner(tag) for tag in ids} == ids
    assert {page_and_corner(tag) for tag in range(-8, 100) if tag not in ids} == {None}
