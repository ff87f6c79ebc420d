from scheduling.models.apparatus import Apparatus, Calibration, Inspection, OutOfService, Room, Spring, SpringUse
from scheduling.models.instructors import Hours, Instructor, MayTeach, TimeOff
from scheduling.models.items import Item, ItemHold
from scheduling.models.lessons import Lesson, Place

__all__ = [
    "Apparatus",
    "Calibration",
    "Hours",
    "Inspection",
    "Instructor",
    "Item",
    "ItemHold",
    "Lesson",
    "MayTeach",
    "OutOfService",
    "Place",
    "Room",
    "Spring",
    "SpringUse",
    "TimeOff",
]
