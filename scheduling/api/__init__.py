"""Scheduling over the API: the day, openings, booking a place and its state; the same actions as the pages."""

from scheduling.api.day import DayView
from scheduling.api.openings import OpeningsView
from scheduling.api.places import PlaceStateView, PlacesView, PlaceView

__all__ = ["DayView", "OpeningsView", "PlaceStateView", "PlaceView", "PlacesView"]
