"""What a term review needs to know of the house, from the settings."""

from watchdog.review.rows import House, plastic
from watchdog.settings.fill import week_of, zone_of
from watchdog.settings.model import Settings


def house_of(settings: Settings) -> House:
    """Zone, hours, prices, plastics and causes."""
    return House(
        zone=zone_of(settings),
        week=week_of(settings),
        filament_price=settings.filament_price,
        sheet_price=settings.review.sheet_price,
        plastics={name: plastic(told.material, told.melts_at) for name, told in settings.machines.items()},
        causes=dict(settings.review.causes),
    )
