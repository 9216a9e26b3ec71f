"""The demonstration machine: physics, controller, card and wire of a small 3D printer, with faults to inject by name."""
