"""G-code job file → plan: byte offset ↔ planned seconds, filament, heat, holds and faults.

    file ──▶ reading ──▶ moves and events ──▶ speeds ──▶ times ──▶ knots
             (words,       (rows)             (look-      (timeline)   (the plan)
              modal)                           ahead)

Two engines run the same model: `plain` in plain Python and `vector` with NumPy. Both run in a short-lived child process
(`worker`), which `planning` starts; the service itself imports neither NumPy nor an engine.
"""
