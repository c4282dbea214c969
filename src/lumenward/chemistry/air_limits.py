"""Vapours above a basin: what a limit in ppm is in mg/m³."""

from __future__ import annotations

from types import MappingProxyType

from lumenward.quantities import require_between

MOLAR_VOLUME_25_C_L = 24.45
MOLAR_MASS_G_MOL = MappingProxyType(
    {
        "glutaraldehyde": 100.1,
        "ortho-phthalaldehyde": 134.1,
        "peracetic acid": 76.05,
        "hydrogen peroxide": 34.01,
    }
)


def vapour_mg_m3(ppm: float, molar_mass_g_mol: float) -> float:
    """Return mg/m³ = ppm · M / 24.45, for 25 °C and 101325 Pa.

    >>> round(vapour_mg_m3(0.05, MOLAR_MASS_G_MOL["glutaraldehyde"]), 3)
    0.205
    """
    require_between(ppm, 0, 1e6, "ppm", "A vapour", "ppm")
    require_between(molar_mass_g_mol, 1, 1000, "molar_mass_g_mol", "A molar mass", "g/mol")
    return ppm * molar_mass_g_mol / MOLAR_VOLUME_25_C_L
