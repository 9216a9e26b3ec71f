"""A job's plan as a picture: how far its bytes are read, what is heated, and where a person is needed, over time.

Drawn by matplotlib, in the command's own process; the service never loads it. Light, readable in grey: lines differ by dash and
by their label, not by colour alone.
"""

from pathlib import Path

from watchdog.cli.common import FOUND_WRONG, Stop
from watchdog.core.plan import Plan

INK, SOFT, HEAT, BED = "#1f1f1f", "#8a8a8a", "#b3261e", "#8a5a00"


def draw(name: str, plan: Plan, place: Path) -> None:
    """Write the picture to `place`; its ending (.svg, .png, .pdf) tells the format. Raises Stop without matplotlib."""
    try:
        import matplotlib
    except ImportError:
        raise Stop(FOUND_WRONG, "--plot needs matplotlib: pip install 'emberward[plots]'") from None
    matplotlib.use("Agg")
    matplotlib.rcParams["svg.hashsalt"] = plan.digest  # the same plan gives the same file
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 5.2), layout="constrained")
    progress, heat = figure.subplots(2, 1, sharex=True, height_ratios=[2, 1])
    knots = plan.knots()
    minutes = [seconds / 60 for _, seconds, _ in knots]
    progress.plot(minutes, [100 * byte / max(1, plan.size) for byte, _, _ in knots], color=INK, label="bytes read")
    whole = max(plan.filament, 1e-9)
    filament = [100 * fed / whole for _, _, fed in knots]
    progress.plot(minutes, filament, color=SOFT, dashes=(4, 2), label="filament fed")
    progress.set_ylabel("%")
    progress.set_ylim(0, 103)
    progress.set_title(
        f"{name}: planned {plan.seconds / 60:.0f} min, {plan.filament / 1000:.2f} m of filament", loc="left"
    )
    for hold in plan.holds:
        if hold.kind == "person":
            progress.axvline(hold.at / 60, color=HEAT, linewidth=1)
            progress.annotate(
                f"person: {hold.what}", (hold.at / 60, 50), rotation=90, va="center", ha="right", color=HEAT, fontsize=8
            )
        elif hold.seconds >= 1:
            progress.axvspan(hold.at / 60, (hold.at + hold.seconds) / 60, color=SOFT, alpha=0.2, linewidth=0)
    progress.plot([], [], color=SOFT, alpha=0.4, linewidth=8, label="waits (heat, homing, dwell)")
    progress.legend(loc="lower right", frameon=False)
    for heater, colour, dashes in (("nozzle", HEAT, (1, 0)), ("bed", BED, (5, 2))):
        changes = [change for change in plan.heats if change.heater == heater]
        if changes:
            times = [change.at / 60 for change in changes] + [plan.seconds / 60]
            targets = [change.target for change in changes]
            heat.step(
                times, [*targets, targets[-1]], where="post", color=colour, dashes=dashes, label=f"{heater} target"
            )
    heat.set_ylabel("°C")
    heat.set_xlabel("minutes after the start")
    heat.set_ylim(bottom=0)
    heat.legend(loc="center right", frameon=False)
    for axes in (progress, heat):
        axes.spines[["top", "right"]].set_visible(False)
        axes.margins(x=0)
    figure.savefig(place, metadata={"Date": None} if place.suffix == ".svg" else None)
