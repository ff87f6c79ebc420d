from programming.models.logs import Log, LogLine, Ownership
from programming.models.programs import Program, ProgramLine
from programming.models.repertoire import Exercise, ExerciseDemand, LadderStep, RepertoireTable
from programming.models.templates import Template, TemplateLine

__all__ = [
    "Exercise",
    "ExerciseDemand",
    "LadderStep",
    "Log",
    "LogLine",
    "Ownership",
    "Program",
    "ProgramLine",
    "RepertoireTable",
    "Template",
    "TemplateLine",
]
