from scheduling.models.apparatus import Apparatus, OutOfService, Room, Spring
from scheduling.models.instructors import Hours, Instructor, MayTeach, TimeOff
from scheduling.models.lessons import Lesson, Place

__all__ = [
    "Apparatus",
    "Hours",
    "Instructor",
    "Lesson",
    "MayTeach",
    "OutOfService",
    "Place",
    "Room",
    "Spring",
    "TimeOff",
]
