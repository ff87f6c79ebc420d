from programming.models.logs import Grant, Log, LogLine, Ownership, StepDecision
from programming.models.programs import Body, CheckIn, GroupLine, GroupPlan, Program, ProgramLine, Waiver
from programming.models.repertoire import (
    Exercise,
    ExerciseDemand,
    ExerciseVersion,
    LadderStep,
    LadderStepVersion,
    RepertoireProposal,
    RepertoireTable,
)
from programming.models.templates import Template, TemplateChange, TemplateLine, TemplateOverride

__all__ = [
    "Body",
    "CheckIn",
    "Exercise",
    "ExerciseDemand",
    "ExerciseVersion",
    "Grant",
    "GroupLine",
    "GroupPlan",
    "LadderStep",
    "LadderStepVersion",
    "Log",
    "LogLine",
    "Ownership",
    "Program",
    "ProgramLine",
    "RepertoireProposal",
    "RepertoireTable",
    "StepDecision",
    "Template",
    "TemplateChange",
    "TemplateLine",
    "TemplateOverride",
    "Waiver",
]
