"""The plastics that a machine may be loaded with: what heat means to them.

Each value says where it comes from. No published test of filament that is left in a hot nozzle was found, so the kinetics
are those of melts in other apparatus, and where none was found the default stands and says so.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from watchdog.core.detectors import hot_idle

_DEFAULT: Final = "default, unmeasured"


@dataclass(frozen=True, slots=True)
class Material:
    """One plastic."""

    name: str
    activation: float
    """kJ/mol of its degradation as a melt"""
    activation_from: str
    reference: float
    """°C: usual nozzle temperature, at which a minute counts as one"""
    glass_transition: float
    """°C"""
    glass_transition_from: str
    melts_at: float
    """°C: nozzle temperature from which it counts as molten in the nozzle"""
    melts_at_from: str
    density: float
    """g/cm³ at room temperature"""
    density_from: str
    window: tuple[float, float]
    """°C: usual nozzle temperatures"""
    window_from: str


_PLA = Material(
    "PLA",
    119, "28.5 kcal/mol, isothermal, 240 to 270 °C: McNeill & Leiper 1985, Polym. Degrad. Stab.",
    200,
    60, "55 to 65 °C, resin maker's process guide",
    150, "crystals melt at 145 to 155 °C, resin maker's process guide",
    1.24, "resin maker's process guide",
    (190, 220), "resin maker's process guide",
)  # fmt: skip
_PETG = Material(
    "PETG",
    134, "borrowed from PET, dried melt, 32 kcal/mol: Marshall & Todd on the thermal degradation of polyethylene terephthalate",
    240,
    80, "75 to 88 °C, moulding simulation's material notes",
    170, _DEFAULT,
    1.27, "from memory, not verified",
    (220, 250), "from memory, not verified; moulding 220 to 290 °C",
)  # fmt: skip
_ABS = Material(
    "ABS",
    120, _DEFAULT,
    240,
    105, "Crawford, Plastics Engineering, table 1.8",
    180, _DEFAULT,
    1.04, "Crawford, Plastics Engineering, table 1.8",
    (220, 250), "from memory, not verified; moulding 199 to 282 °C",
)  # fmt: skip
_ASA = replace(
    _ABS,
    name="ASA",
    glass_transition=100,
    glass_transition_from=_DEFAULT,
    density=1.07,
    density_from=_DEFAULT,
    window_from=_DEFAULT,
)
_PA = Material(
    "PA",
    120, "PA6, oxidation as a solid at 120 to 170 °C, extrapolated: Influence of temperature on the thermo-oxidative "
    "degradation of polyamide 6 films",
    255,
    50, "PA6 50 to 80 °C, moulder's polymer chart",
    210, "PA6 melts at 210 to 230 °C, moulder's polymer chart",
    1.13, "PA6 1.12 to 1.15, moulder's polymer chart",
    (238, 288), "PA6, moulder's guideline table",
)  # fmt: skip
_TPU = Material(
    "TPU",
    120, _DEFAULT,
    220,
    -30, "soft segment below 0 °C; " + _DEFAULT,
    170, "from memory, not verified",
    1.21, "from memory, not verified",
    (190, 230), "from memory, not verified; studied at 210 to 220 °C: Heneczkowski 1993, Polimery 3:120",
)  # fmt: skip
_PC = Material(
    "PC",
    154, "mass loss in nitrogen, not melt: Li & Huang 1999, Polym. Int. 48:387",
    280,
    149, "Crawford, Plastics Engineering; Kennedy, Flow Analysis of Injection Molds, table 3.1",
    220, _DEFAULT,
    1.20, "Kennedy, Flow Analysis of Injection Molds, table 3.1",
    (271, 321), "moulder's guideline table",
)  # fmt: skip

MATERIALS: Final[Mapping[str, Material]] = MappingProxyType(
    {material.name: material for material in (_PLA, _PETG, _ABS, _ASA, _PA, _TPU, _PC)}
)
"""By name, in capitals."""


def hot_idle_limits(material: Material, start: hot_idle.Limits | None = None) -> hot_idle.Limits:
    """`start` (the defaults when left out) with this material's kinetics."""
    return replace(
        start or hot_idle.Limits(),
        activation=material.activation,
        reference=material.reference,
        glass_transition=material.glass_transition,
    )
