"""Which black and white squares are the tags in a page's corners?

A tag has 6 x 6 modules: a black border, in it 4 x 4 bits. Its id tells page and corner, so that a
picture of a page tells which way up it is. The bits are those of the ids in use from the predefined
dictionary DICT_4X4_100 of OpenCV (opencv/modules/objdetect, Apache License 2.0), which follows
Garrido-Jurado, Muñoz-Salinas, Madrid-Cuevas, Marín-Jiménez, Pattern Recognition 47(6), 2014.
"""

from __future__ import annotations

__all__ = ["modules_of", "page_and_corner", "tag_id"]

_BITS = (
    (0xB532, 0x0F9A, 0x332D, 0x9946),
    (0xFEDA, 0xCF56, 0xF991, 0x11A7),
    (0x4665, 0x6600, 0x6C5E, 0x76AF),
    (0xFE47, 0x9471, 0xACE4, 0xA554),
    (0x9ECF, 0xF0CB, 0x08AE, 0x0929),
    (0x1718, 0x2A28, 0x328C, 0x38B2),
    (0x502E, 0x5013, 0x5194, 0x5568),
    (0x6124, 0x61E9, 0x6B12, 0x6FE5),
    (0x8BA2, 0x937A, 0x846C, 0x852A),
    (0xBC04, 0xB65B, 0xBFC8, 0xB7AB),
    (0xCC98, 0xC7A0, 0xC537, 0xE95D),
    (0x3575, 0x8AAD, 0x7617, 0x0ACF),
)
"""A row a page, a column a corner (top left, then clockwise); from the top left bit on, 1 white."""
_STEP = 8
"""Ids from page to page: four stay free for what may come to stand beside the corners."""


def tag_id(page: int, corner: int) -> int:
    """The id of a page's (1 to 12) tag in a corner (0 top left, then clockwise)."""
    return _STEP * (page - 1) + corner


def page_and_corner(tag: int) -> tuple[int, int] | None:
    """The page and the corner that an id tells of; None where it is no id of ours."""
    page, corner = divmod(tag, _STEP)
    return (page + 1, corner) if 0 <= page < len(_BITS) and corner < 4 else None


def modules_of(page: int, corner: int) -> list[list[bool]]:
    """The tag's 6 x 6 modules, border included, row by row; True is black."""
    bits = _BITS[page - 1][corner]
    inner = [[not bits >> 15 - 4 * row - column & 1 for column in range(4)] for row in range(4)]
    edge = [True] * 6
    return [edge, *([True, *row, True] for row in inner), edge]
