"""The builder of a template, as its page reads it."""

from programming.queries.builder.page import builder, head
from programming.queries.builder.views import BuilderView, FindingView, Head, Looking

__all__ = ["BuilderView", "FindingView", "Head", "Looking", "builder", "head"]
