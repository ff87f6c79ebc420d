"""Decisions about lessons and places: who may book what, which openings there are, how full the studio is.

`places` names the states, `booking` says no in words, `openings` and `alternatives` find free time, `hours` turns wall
times into instants, `use` counts, `springs` knows forces.
"""
