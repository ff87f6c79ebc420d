"""Shapes of the run sheet over the wire. Nothing here names a condition or a limit."""

from typing import Any

from rest_framework import serializers

from programming.queries.sheets import RunSheet, SheetLine
from programming.rules.marks import Decision, Mark


class SpringHookSerializer(serializers.Serializer):
    letter = serializers.ChoiceField(choices=["H", "M", "L"])
    state = serializers.ChoiceField(choices=["on", "off", "unhook", "hook"])


class SheetLineSerializer(serializers.Serializer):
    id = serializers.UUIDField()
    no = serializers.IntegerField(help_text="Counts the lines that are taught; 0 for one that was left out.")
    title = serializers.CharField()
    exercise = serializers.CharField()
    part_of = serializers.CharField(allow_blank=True)
    apparatus = serializers.CharField()
    decision = serializers.ChoiceField(choices=[word.value for word in Decision])
    springs = serializers.CharField(allow_blank=True, help_text="Letters of the springs hooked, heavy first.")
    set_springs = serializers.CharField(allow_blank=True, help_text="What to do at this machine before the line.")
    hooks = SpringHookSerializer(many=True)
    reps = serializers.CharField(allow_blank=True)
    seconds_each = serializers.IntegerField()
    form = serializers.CharField(allow_blank=True, help_text="The changed form in words.")
    fault = serializers.CharField(allow_blank=True)
    cue = serializers.CharField(allow_blank=True)
    mark = serializers.ChoiceField(choices=[mark.value for mark in Mark], allow_null=True)
    reps_done = serializers.IntegerField(allow_null=True)
    score = serializers.IntegerField(allow_null=True)


class RunSheetSerializer(serializers.Serializer):
    """One lesson at the machine."""

    place_id = serializers.UUIDField()
    client_id = serializers.UUIDField()
    client = serializers.CharField()
    machine = serializers.CharField()
    program_id = serializers.UUIDField(allow_null=True)
    log_id = serializers.UUIDField(allow_null=True)
    started_at = serializers.DateTimeField(allow_null=True)
    finished_at = serializers.DateTimeField(allow_null=True)
    current_line = serializers.UUIDField(allow_null=True, help_text="The first line without a mark.")
    lines = SheetLineSerializer(many=True)


class MarkSerializer(serializers.Serializer):
    line = serializers.UUIDField()
    mark = serializers.ChoiceField(choices=[mark.value for mark in Mark])
    reps = serializers.IntegerField(min_value=0, max_value=200, required=False, allow_null=True)
    score = serializers.IntegerField(min_value=0, max_value=5, required=False, allow_null=True)


class LineSerializer(serializers.Serializer):
    line = serializers.UUIDField()


def sheet_body(sheet: RunSheet) -> dict[str, Any]:
    """The sheet as plain values."""
    return RunSheetSerializer(
        {
            "place_id": sheet.place.place_id,
            "client_id": sheet.place.client_id,
            "client": sheet.place.client_name,
            "machine": sheet.place.apparatus_label,
            "program_id": sheet.program_id,
            "log_id": sheet.log_id,
            "started_at": sheet.started_at,
            "finished_at": sheet.finished_at,
            "current_line": sheet.current.line.id if sheet.current else None,
            "lines": [_line(line) for line in sheet.lines],
        }
    ).data


def _line(line: SheetLine) -> dict[str, Any]:
    marked = line.marked
    return {
        "id": line.line.id,
        "no": line.no,
        "title": line.title,
        "exercise": line.line.exercise,
        "part_of": line.part_of,
        "apparatus": line.line.apparatus.value,
        "decision": line.line.decision.value,
        "springs": line.line.springs,
        "set_springs": line.setting.words,
        "hooks": line.setting.hooks,
        "reps": line.line.reps,
        "seconds_each": line.line.tempo,
        "form": line.line.form,
        "fault": line.ladder.when_seen,
        "cue": line.ladder.cue,
        "mark": marked.mark.value if marked else None,
        "reps_done": marked.reps if marked else None,
        "score": marked.score if marked else None,
    }
