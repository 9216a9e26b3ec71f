"""Emberward: stands beside a shared material-extrusion printer and tells the right person when it needs one."""

__version__ = "0.1.0"
