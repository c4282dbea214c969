"""Everything around the endoscope: connector sets, pumps, sinks, basins, machines, cabinets, meters, people's tools."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from lumenward.equipment.common import Coded, Described, Slug, Stated, Words


class ConnectorTube(Described):
    """One tube of a connector set, from the manifold to one port."""

    port: Slug
    length_m: float = Field(gt=0)
    bore_mm: float = Field(gt=0)
    minor_loss: float = Field(ge=0)
    clamp: bool = True


class ConnectorSet(Coded):
    """A kind of connector set: the models it fits, its tubes, how long it may be used after first use."""

    fits: list[Slug] = Field(min_length=1)
    tubes: list[ConnectorTube] = Field(min_length=1)
    single_use: bool = False
    life_h: float | None = Field(default=None, gt=0)
    life_page: Words | None = None


class Pump(Coded):
    """A flushing pump with its hose; `relief_kpa` and `slip` absent means the maker did not state it."""

    flow_ml_min: float = Field(gt=0)
    slip_fraction_per_100_kpa: float = Field(default=0, ge=0)
    relief_kpa: float = Field(gt=0)
    hose_length_m: float = Field(gt=0)
    hose_bore_mm: float = Field(gt=0)
    hose_minor_loss: float = Field(default=0, ge=0)


class Box(Described):
    """A straight-walled rectangular vessel."""

    shape: Literal["box"]
    length_m: float = Field(gt=0)
    width_m: float = Field(gt=0)


class Tapered(Described):
    """A vessel whose walls lean: bottom and top rectangles and the height between them."""

    shape: Literal["tapered"]
    bottom_length_m: float = Field(gt=0)
    bottom_width_m: float = Field(gt=0)
    top_length_m: float = Field(gt=0)
    top_width_m: float = Field(gt=0)
    height_m: float = Field(gt=0)


class FillMark(Described):
    """A line on the wall of a sink or container that a person can fill to."""

    name: Words
    fill_m: float = Field(gt=0)


class Vessel(Coded):
    """A sink or a clean container. `tolerance_m` is how well the fill line can be hit (half width)."""

    vessel: Box | Tapered = Field(discriminator="shape")
    marks: list[FillMark] = Field(min_length=1)
    fill_tolerance_m: float = Field(gt=0)
    length_tolerance_m: float = Field(gt=0)


class Sink(Vessel):
    """A cleaning sink: a station of work with its pump."""

    pump: Slug
    water: Slug
    place: Words


class Basin(Coded):
    """A covered basin for manual high-level disinfection; it holds one charge at a time."""

    volume_l: float = Field(gt=0)
    place: Words


class Washer(Coded):
    """A washer-disinfector: programs by name, whether it tests for leaks, flow and blockage itself."""

    programs: list[Slug] = Field(min_length=1)
    leak_test: bool
    channel_flow_check: bool
    chemistry: Slug
    contact_s: float = Field(gt=0)
    contact_c: float = Field(gt=0)
    fits: list[Slug] = Field(min_length=1)
    page: Words


class Dryer(Coded):
    """A source of drying air for channels: filtered, regulated."""

    filtered: bool
    gauge_kpa: float = Field(gt=0)
    dew_point_c: float | None = None


class Cabinet(Coded):
    """A place where a ready endoscope waits. `validated_h` is its own proven limit, absent if none was proven."""

    kind: Literal["drying cabinet", "ventilated cabinet", "transport tray"]
    slots: int = Field(ge=1)
    validated_h: float | None = Field(default=None, gt=0)
    page: Words


class Water(Described):
    """A water supply by its use: utility water cleans, critical water rinses last."""

    id: Slug
    name: Words
    kind: Literal["utility", "critical", "sterile"]


class Brushware(Coded):
    """A cleaning brush as it lies on the shelf."""

    diameter_mm: float = Field(gt=0)
    single_use: bool = True


class Meter(Coded):
    """A verification or leak meter; limits belong to meter, kit and sampling method together."""

    measures: Literal["ATP", "protein", "haemoglobin", "carbohydrate", "leak"]
    unit: Literal["RLU", "ug/cm2", "kPa"]
    digit_kpa: float | None = Field(default=None, gt=0)
    calibration_due: date | None = None


class VerificationKit(Coded):
    """A test kit with the limits its own meter and sampling method carry."""

    meter: Slug
    sample: Words
    alert: float = Field(ge=0)
    action: float = Field(gt=0)
    unit: Literal["RLU", "ug/cm2"]
    page: Words


def _on_label(name: str, revision: str) -> str:
    """Return a product's label as a source; the word is not said twice where its revision says it already.

    >>> _on_label("Reedwash", "C, 2025-03"), _on_label("Reedwash", "label C, 2025-03")
    ('Reedwash, label C, 2025-03', 'Reedwash, label C, 2025-03')
    """
    return f"{name}, {revision}" if "label" in revision.lower() else f"{name}, label {revision}"


class Detergent(Coded):
    """A detergent by its label. `dilution` is the convention chosen from the label and never guessed."""

    dilution: Literal[
        "ml_per_l_water", "ml_per_l_solution", "percent_v_v", "one_to_n", "one_in_n", "us_oz_per_gal",
        "imp_oz_per_gal",
    ]  # fmt: skip
    dilution_low: float = Field(gt=0)
    dilution_aim: float = Field(gt=0)
    dilution_high: float = Field(gt=0)
    dose_tolerance_ml: float = Field(gt=0)
    temperature_low_c: float
    temperature_high_c: float
    states: list[Stated] = Field(default_factory=list)
    gtin: str = Field(pattern=r"^\d{14}$")
    label_revision: Words

    @property
    def on_label(self) -> str:
        """The label as a source."""
        return _on_label(self.name, self.label_revision)


class LabelPair(Described):
    """One listed pair of contact time and temperature; nothing between pairs is valid."""

    route: Literal["manual", "machine"]
    time_s: float = Field(gt=0)
    temperature_low_c: float
    temperature_high_c: float


class Disinfectant(Coded):
    """A disinfectant by chemistry and label."""

    chemistry: Slug
    strength_percent: float = Field(gt=0)
    pairs: list[LabelPair] = Field(min_length=1)
    mec_percent: float | None = Field(default=None, gt=0)
    reuse_d: float | None = Field(default=None, gt=0)
    single_use: bool = False
    rinses: int | None = Field(default=None, ge=1)
    forbidden_for_urology: bool = False
    jurisdiction: Words
    label_revision: Words

    @property
    def on_label(self) -> str:
        """The label as a source."""
        return _on_label(self.name, self.label_revision)

    source: Words
    gtin: str = Field(pattern=r"^\d{14}$")


class TestStrip(Coded):
    """A strip that tests one chemistry; it is read after `read_s`, and lives `open_d` after opening."""

    chemistry: Slug
    read_low_s: float = Field(gt=0)
    read_high_s: float = Field(gt=0)
    open_d: float = Field(gt=0)
    gtin: str = Field(pattern=r"^\d{14}$")
    page: Words
