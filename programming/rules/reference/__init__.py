"""Checks of the reference tables this app starts from, and what a reload would change."""
