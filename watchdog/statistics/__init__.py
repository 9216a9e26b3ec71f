"""Intervals, change detection, trend tests, robust estimates, prediction bounds and survival: pure arithmetic.

Imports nothing of ours and no library: closed forms and four special functions (`special`, `quantiles`). Every function
names its formula, its published source and its units. Chances and confidences are shares (0.95, not 95).
"""
