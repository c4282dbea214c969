"""Keys as people read them: `temperature_c` is "Temperature" in °C."""

from __future__ import annotations

from lumenward.quantities import UNITS

_SUFFIXES = (
    ("_pa_m3_s", "Pa·m³/s"), ("_m3_s_pa", "m³/s per Pa"), ("_j_kg_k", "J/(kg·K)"), ("_s_per_ml", "s/mL"),
    ("_ml_10_min_low", "mL in 10 min, at least"), ("_ml_10_min_high", "mL in 10 min, at most"),
    ("_sccm_0c", "cm³/min at 0 °C"), ("_kg_m3", "kg/m³"), ("_pa_abs", "Pa absolute"), ("_ml_min", "mL/min"),
    ("_l_min", "L/min"), ("_kg_s", "kg/s"), ("_m3_s", "m³/s"), ("_pa_s", "Pa·s"), ("_n_m", "N/m"), ("_m_s", "m/s"),
    ("_percent", "%"), ("_ppm", "ppm"), ("_m3", "m³"), ("_ml", "mL"), ("_kg", "kg"), ("_pa", "Pa"), ("_hex", ""),
    ("_mm", "mm"), ("_m", "m"), ("_kpa", "kPa"), ("_h", "h"), ("_d", "d"), ("_min", "min"), ("_c", "°C"),
    ("_k", "K"), ("_s", "s"), ("_l", "L"),
)  # fmt: skip
_TRADE = {"m³/s": ("mL/min", 6e7), "m³": ("mL", 1e6)}
_SPECIAL = {
    "u_c": ("Combined standard uncertainty", ""),
    "u_ppm": ("Standard uncertainty", "ppm"),
    "a0_s": ("A0", "s"),
    "z_k": ("z", "K"),
    "dof": ("Degrees of freedom", ""),
    "dof_effective": ("Effective degrees of freedom", ""),
    "k": ("Coverage factor k", ""),
    "csv": ("CSV text", ""),
    "fluid": ("Liquid", ""),
    "interval_95_ppm": ("95 % interval", "ppm"),
    "laminar_f_re": ("Laminar f·Re", ""),
    "ln_survival": ("ln of survival", ""),
    "log10_reduction": ("Reduction, powers of ten", ""),
    "mid_p": ("mid-p", ""),
}

_CHOICES = {
    "ml_per_l_water": "mL per L of water",
    "ml_per_l_solution": "mL per L of solution",
    "percent_v_v": "% by volume",
    "one_to_n": "1 + n",
    "one_in_n": "1 in n",
    "us_oz_per_gal": "US fl oz per US gal",
    "imp_oz_per_gal": "imperial fl oz per imperial gal",
}


def split(key: str) -> tuple[str, str]:
    """Return label and unit of a key.

    >>> split("temperature_c"), split("pressure_u_pa"), split("friction")
    (('Temperature', '°C'), ('Pressure u', 'Pa'), ('Friction', ''))
    """
    if key in _SPECIAL:
        return _SPECIAL[key]
    for suffix, unit in _SUFFIXES:
        if key.endswith(suffix) and key != suffix[1:]:
            return _label(key.removesuffix(suffix)), unit
    return _label(key), ""


def _label(stem: str) -> str:
    words = stem.replace("_", " ").replace("-", " ").strip()
    return words[:1].upper() + words[1:]


def choice_words(choice: str) -> str:
    """Return one of a list of choices in words.

    >>> choice_words("ml_per_l_solution"), choice_words("one_to_n"), choice_words("swamee-jain")
    ('mL per L of solution', '1 + n', 'swamee-jain')
    """
    return _CHOICES.get(choice, choice.replace("_", " "))


def parse_unit(unit: str) -> str:
    """Return the unit's name where other units of its kind may be typed for it; empty where only numbers are.

    >>> parse_unit("m³/s"), parse_unit("K")
    ('m3/s', '')
    """
    known = unit.replace("m³/s", "m3/s").replace("m³", "m3")
    return known if known in UNITS and known != "K" else ""


def trade(unit: str) -> tuple[str, float]:
    """Return the unit a bench speaks of and the factor to it.

    >>> trade("m³/s")
    ('mL/min', 60000000.0)
    """
    return _TRADE.get(unit, (unit, 1.0))
