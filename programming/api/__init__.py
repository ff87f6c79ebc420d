"""The run sheet and its log over the same actions as the pages."""

from programming.api.groups import GroupPlanView
from programming.api.run_sheet import LogFinishView, LogLineView, LogUndoView, RunSheetView
from programming.api.springs import TranslateView

__all__ = ["GroupPlanView", "LogFinishView", "LogLineView", "LogUndoView", "RunSheetView", "TranslateView"]
