"""The conditions, one a file, each named like its alarm.

A detector is a module with `NAME`, a frozen `Limits`, a frozen `Memory` (its start value is `Memory()`) and
`observe(limits, memory, seen) -> (memory, finding)`. It never sees another detector.
"""
