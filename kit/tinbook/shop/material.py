"""What the shop has on the rack: materials and sheets."""

from __future__ import annotations

from typing import Annotated, Any, Final, TypeAlias

from tinbook.calc.radii import general_floor, minimum_radius, minimum_radius_source
from tinbook.calc.sheet_tolerances import STANDARDS, thickness_tolerance
from tinbook.calc.tolerance_classes import Tolerance
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.fields import POSITIVE, ByName, Choice, Flag, Number, Several, Text, check_fields, lookup
from tinbook.values import dataclass

FAMILIES: Final = ("mild steel", "structural steel", "stainless", "aluminium")
"""Groups that behave alike on a tool; a tool's limits may be given by family or by material."""

Limits: TypeAlias = Annotated[tuple[tuple[str, float], ...], ByName()]
"""The thickest sheet of a tool by material or family, mm."""

TEMPERS: Final = ("soft", "half-hard", "hard")

# Limits wide enough for any metal: a value beyond was typed in another unit.
_MPA = Number("MPa", least=5, most=5000)
_THICK = Number("mm", least=0.05, most=200)


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A grade of metal, as its standard guarantees it.

    Parameters
    ----------
    key, title : str
        Short name ("DC01") and full name with its standard.
    family : str
        One of `FAMILIES`.
    density : float
        kg/m³.
    youngs, poisson : float
        Modulus of elasticity in MPa and Poisson's ratio.
    yield_min, yield_max : float
        MPa. Soft sheet grades guarantee only an upper limit: `yield_min` is then the
        declared lower bound for strength, `yield_max` serves force and springback.
    tensile_min, tensile_max : float
        MPa.
    elongation_percent : float
        Elongation after fracture, percent, gauge length as in the standard.
    hem : bool
        Whether it takes a fold pressed flat.
    air_radius : float
        Inside radius of an air bend as a part of the die opening.
    min_radius : str
        Key of the table of minimum inside radii, see `calc.radii`.
    floor_radius : float
        Multiple of the thickness below which it cracks; between it and the table it is a matter of care.
    temper : str
        Column of the handbook's allowance formulas: soft, half-hard, hard.
    springback : str
        Row of the handbook's springback factors, "" if it has none.
    thickness_by : str
        Standard of its sheets' thickness tolerances, see `calc.sheet_tolerances`; "" where none is known.
    colour : (float, float, float)
        Red, green, blue, 0 to 1, for pictures and STEP.
    source : str
        Key of the sources registry.
    """

    key: Annotated[str, Text()]
    title: Annotated[str, Text()]
    family: Annotated[str, Choice(FAMILIES)]
    density: Annotated[float, Number("kg/m^3", least=500, most=25_000)]
    youngs: Annotated[float, Number("MPa", least=1000, most=1e6)]
    poisson: Annotated[float, Number(above=0, most=0.5)]
    yield_min: Annotated[float, _MPA]
    yield_max: Annotated[float, Number("MPa", least=5, most=5000)] | None = None
    tensile_min: Annotated[float, _MPA]
    tensile_max: Annotated[float, _MPA]
    elongation_percent: Annotated[float, Number(above=0, most=100)]
    hem: Annotated[bool, Flag()]
    air_radius: Annotated[float, Number(above=0, most=0.5)]
    min_radius: Annotated[str, Text()]
    floor_radius: Annotated[float, Number(least=0)]
    temper: Annotated[str, Choice(TEMPERS)]
    springback: Annotated[str, Text(empty=True)] = ""
    thickness_by: Annotated[str, Choice(("", *STANDARDS))] = ""
    colour: Annotated[tuple[float, float, float], Several(Number(least=0, most=1), 3, 3, "numbers")]
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"material '{self.key}'"
        check_fields(self, where)
        if self.yield_max is not None and self.yield_max < self.yield_min:
            raise BadValue(f"{where} yield_max", self.yield_max, f"at least yield_min = {self.yield_min:g} MPa")
        if self.tensile_max < self.tensile_min:
            raise BadValue(f"{where} tensile_max", self.tensile_max, f"at least tensile_min = {self.tensile_min:g} MPa")


def largest(limits: tuple[tuple[str, float], ...], material: Material) -> float:
    """Return the limit for a material: by its key, else by its family, else 0 (not taken at all)."""
    return lookup(limits, material.key, material.family) or 0.0


LOW_CARBON: Final = "mild steel"
"""Family of materials for which `general_floor` is meant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RadiusLimit:
    """Two limits of the inside radius, mm, and their source: below `caution` it may crack, below `stop` it cracks."""

    caution: float
    stop: float
    source: str


def radius_limit(material: Material, thickness: float, angle: float = 90.0, along_grain: bool = False) -> RadiusLimit:
    """Limits of the inside radius of a material: its table (caution), its floor (stop).

    A metal that is folded flat does not crack in a wider bend, so it has no floor; and low-carbon steel that is
    folded flat is a caution below the general floor only, not below the table for structural steels.

    Raises OutOfRange where the material's table says nothing.
    Source: DIN 6935 or Aluminum Association by the material's table, sheet design guide; the floor: common practice.
    """
    if material.hem and material.family == LOW_CARBON:
        return RadiusLimit(caution=general_floor(thickness), stop=0.0, source="sheet design guide")
    caution = minimum_radius(material.min_radius, thickness, angle, along_grain)
    stop = 0.0 if material.hem else min(caution, material.floor_radius * thickness)
    return RadiusLimit(caution=caution, stop=stop, source=minimum_radius_source(material.min_radius))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One thickness of one material, as the shop buys it.

    Parameters
    ----------
    key : str
        Name in the shop ("DC01 1.6").
    material : Material
        Its grade.
    nominal : float
        Ordered thickness, mm.
    measured : float or None
        Thickness by micrometer, mm; replaces the nominal one everywhere when given.
    sizes : tuple of (float, float)
        Sheets that can be had, length and width in mm.
    price_per_kg : float or None
        In the currency of the shop's rates.
    grain : {"length", "none"}
        Rolling direction: along the sheet's length, or of no concern.
    source : str
        Key of the sources registry.
    """

    key: Annotated[str, Text()]
    material: Material
    nominal: Annotated[float, _THICK]
    measured: Annotated[float, Number("mm", least=0.05, most=200)] | None = None
    sizes: Annotated[
        tuple[tuple[float, float], ...], Several(Several(POSITIVE, 2, 2, "numbers"), what="rows [length, width]")
    ]
    price_per_kg: Annotated[float, Number(least=0)] | None = None
    grain: Annotated[str, Choice(("length", "none"))] = "length"
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"sheet '{self.key}'"
        check_fields(self, where)
        if self.measured is not None and not 0.7 <= self.measured / self.nominal <= 1.3:
            raise BadValue(f"{where} measured", self.measured, f"within 30 % of the nominal {self.nominal:g} mm")

    @property
    def thickness(self) -> float:
        """The measured thickness if there is one, else the nominal, mm."""
        return self.nominal if self.measured is None else self.measured

    @property
    def thickest(self) -> float:
        """The measured thickness if there is one, else the nominal with its standard's tolerance, mm."""
        off = self.tolerance if self.measured is None else None
        return self.thickness + (off.plus_minus if off is not None else 0.0)

    @property
    def tolerance(self) -> Tolerance | None:
        """How far its thickness may be off by its standard, in the widest sheet; None where none covers it."""
        try:
            wide = max(min(size) for size in self.sizes)
            return thickness_tolerance(self.material.thickness_by, self.nominal, wide, self.material.yield_min)
        except (OutOfRange, UnknownName):
            return None


@dataclass(frozen=True, slots=True)
class SheetName:
    """A kind: a sheet of the shop, or its name; "" too where `empty`."""

    empty: bool = False

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        none = ", or '' for the usual one" if self.empty else ""
        return f"a sheet of the shop, shop.sheet_by_key(name), or its name, as in 'DC01 1.5'{none}"

    def read(self, value: Any, field: str) -> Sheet | str:
        """Return the sheet, or the name as it is."""
        if isinstance(value, Sheet) or (isinstance(value, str) and (value.strip() or self.empty)):
            return value
        raise BadValue(field, value, self.valid)


OfSheet: TypeAlias = Annotated[Sheet | str, SheetName()]
"""What a family takes for a sheet."""
OwnPlate: TypeAlias = Annotated[Sheet | str, SheetName(empty=True)]
"""What a family takes for a plate that may stand instead of a grade and a thickness."""
