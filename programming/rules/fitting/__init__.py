"""Fitting planned lines to a body, a machine and a slot: kept, adapted, swapped or left out, each with its reasons."""

from programming.rules.fitting.fitter import fit
from programming.rules.fitting.result import LEVEL_ORDER, Cost, FittedLine, FittedProgram, LimitFact, Rule, Why

__all__ = ["LEVEL_ORDER", "Cost", "FittedLine", "FittedProgram", "LimitFact", "Rule", "Why", "fit"]
