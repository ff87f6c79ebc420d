"""The kinds of apparatus a place can stand on."""

from enum import StrEnum


class ApparatusKind(StrEnum):
    """A mat is one too, so that a place always has an apparatus."""

    REFORMER = "reformer"
    TOWER = "tower"
    CHAIR = "chair"
    BARREL = "barrel"
    MAT = "mat"
