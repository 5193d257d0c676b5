"""suits/*.yaml: one suit with its garment, water loop, reservoir, air path and battery."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal, get_args

from pydantic import Discriminator, Tag

from neckring.station.fault import listed
from neckring.station.fields import Code, Plain, Text, Word, YesNo
from neckring.station.fit import Fit
from neckring.station.help import ASSUMED_HELP, Help
from neckring.station.measured import Measured
from neckring.station.sensing import Sensors, sensor_complaints
from neckring.station.written import Complaint, Written
from neckring.units import Quantity, format_quantity

Segment = Literal[
    "head",
    "neck",
    "chest",
    "back",
    "pelvis",
    "upper_arms",
    "forearms",
    "hands",
    "thighs",
    "lower_legs",
    "feet",
]
SEGMENTS: tuple[str, ...] = get_args(Segment)

SHARES_SLACK = 5e-4
"""[1]; shares written with one decimal may miss the whole by so much."""

Fraction = Annotated[Quantity, Measured("fraction", "0 %", "100 %")]
MaybeFraction = Annotated[Quantity | None, Measured("fraction", "0 %", "100 %")]
Bore = Annotated[Quantity, Measured("length", "0.3 mm", "100 mm")]
TubeLength = Annotated[Quantity, Measured("length", "0.05 m", "50 m")]
Kv = Annotated[Quantity, Measured("flow_coefficient", "0.001 m3/h", "50 m3/h")]
WaterMass = Annotated[Quantity, Measured("mass", "0 kg", "20 kg")]
# The kernel couples skin, air and wall step by step: films above these bounds, and walls lighter
# than a shirt, would swing from step to step instead of settling.
GapFilm = Annotated[Quantity, Measured("surface_conductance", "0.1 W/m2/K", "30 W/m2/K")]
Contact = Annotated[Quantity, Measured("surface_conductance", "0 W/m2/K", "50 W/m2/K")]
VisorFilm = Annotated[Quantity, Measured("surface_conductance", "0.5 W/m2/K", "50 W/m2/K")]


_CHAINS = "a list of chains of segments, as in [[chest, upper_arms], [back, pelvis]]"
Circuits = Annotated[
    Annotated[Annotated[Literal["parallel"], Word(also=_CHAINS)], Tag("«word»")]
    | Annotated[tuple[tuple[Annotated[Segment, Word()], ...], ...], Tag("«chains»")],
    Discriminator(lambda written: "«word»" if isinstance(written, str) else "«chains»"),
]


class Strap(Written):
    """One shoulder strap of the pack."""

    width: Annotated[Quantity, Measured("length", "10 mm", "200 mm")]
    contact_length: Annotated[Quantity, Measured("length", "50 mm", "600 mm")]


class WallRegion(Written):
    """The suit's wall on one region of the body."""

    insulation: Annotated[Quantity, Measured("insulation", "0 clo", "6 clo")]
    heat_capacity: Annotated[Quantity, Measured("heat_capacity", "300 J/K", "100 kJ/K")]
    sun_absorbed: Fraction


class Wall(Written):
    """The suit's wall, from its inside to its outer face, region by region."""

    helmet: WallRegion
    trunk: WallRegion
    arms: WallRegion
    hands: WallRegion
    legs: WallRegion
    feet: WallRegion


class Inner(Written):
    """What lies between the skin and the wall."""

    air_gap_conductance: GapFilm
    direct_conductance: Contact
    vapour_permeability_index: Annotated[Quantity, Measured("number", "0", "1")]
    underwear_insulation: Annotated[Quantity, Measured("insulation", "0 clo", "3 clo")]
    liquid_capacity: Annotated[Quantity, Measured("areal_mass", "0 g/m2", "2000 g/m2")]


class Shares(Written):
    """How the garment's conductance is shared out; what is not named has no tubes."""

    head: MaybeFraction = None
    neck: MaybeFraction = None
    chest: MaybeFraction = None
    back: MaybeFraction = None
    pelvis: MaybeFraction = None
    upper_arms: MaybeFraction = None
    forearms: MaybeFraction = None
    hands: MaybeFraction = None
    thighs: MaybeFraction = None
    lower_legs: MaybeFraction = None
    feet: MaybeFraction = None


class Tubes(Written):
    """The garment's tubes, side by side."""

    count: Annotated[int, Plain(1, 500, whole=True)]
    length: TubeLength
    bore: Bore


def _circuit_complaints(
    chains: tuple[tuple[str, ...], ...], shares: dict[str, Quantity]
) -> Iterator[Complaint]:
    met: set[str] = set()
    for i, chain in enumerate(chains):
        for j, segment in enumerate(chain):
            if segment not in shares:
                yield Complaint(("circuits", i, j), f"segments with a share: {listed(shares)}")
            elif segment in met:
                yield Complaint(("circuits", i, j), "each segment once")
            met.add(segment)
    left = [segment for segment in shares if segment not in met]
    if left:
        accepted = "chains that reach every segment with a share"
        yield Complaint(("circuits",), accepted, f"no chain through {listed(left)}")


class Garment(Written):
    """The cooling garment."""

    conductance: Annotated[Quantity, Measured("conductance", "1 W/K", "100 W/K")]
    shares: Shares
    circuits: Circuits
    water: WaterMass
    tubes: Tubes
    condensing_area: Annotated[Quantity, Measured("area", "0 m2", "3 m2")]

    def disagreements(self) -> Iterator[Complaint]:
        """Shares must add up to the whole, and circuits must reach each of them once."""
        total = sum(share.nominal for _, share in named_shares(self.shares))
        if abs(total - 1.0) > SHARES_SLACK:
            yield Complaint(
                ("shares",),
                "shares that add up to 100 %",
                f"shares that add up to {format_quantity(total, 'fraction')}",
            )
        if not isinstance(self.circuits, str):
            yield from _circuit_complaints(self.circuits, dict(named_shares(self.shares)))


class Pump(Written):
    """The pack's water pump: its curve by its two ends, and the power it takes."""

    kind: Annotated[Literal["centrifugal", "diaphragm"], Word()]
    shut_off_pressure: Annotated[Quantity, Measured("pressure", "0.5 kPa", "1000 kPa")]
    free_flow: Annotated[Quantity, Measured("volume_flow", "0.05 L/min", "50 L/min")]
    power: Annotated[Quantity, Measured("power", "0.1 W", "500 W")]

    def disagreements(self) -> Iterator[Complaint]:
        """It cannot give more power to the water than it takes."""
        yield from _too_strong(self, "water")


class Main(Written):
    """Supply and return line together."""

    bore: Bore
    length: TubeLength


class Disconnects(Written):
    """Quick disconnects in the way of the water."""

    count: Annotated[int, Plain(0, 20, whole=True)]
    kv: Kv


class Valve(Written):
    """The valve the wearer turns."""

    kv: Kv
    law: Annotated[Literal["linear", "equal_percentage"], Word()]
    rangeability: Annotated[float, Plain(2, 500)] = 40.0


class WaterLoop(Written):
    """Pump, lines, disconnects and valve."""

    pump: Pump
    main: Main
    fittings: Annotated[float, Plain(0, 200)]
    disconnects: Disconnects
    valve: Valve
    ambient_conductance: Annotated[Quantity, Measured("conductance", "0 W/K", "20 W/K")]


class Reservoir(Written):
    """The pack's store of cold."""

    water: Annotated[Quantity, Measured("mass", "0.1 kg", "20 kg")]
    ice: WaterMass
    start_temperature: Annotated[Quantity, Measured("temperature", "0 degC", "40 degC")]
    wall_conductance: Annotated[Quantity, Measured("conductance", "0 W/K", "20 W/K")]
    ice_contact: Annotated[Quantity, Measured("mass_conductance", "1 W/K/kg", "1000 W/K/kg")]


class Fan(Written):
    """One fan: its curve by its two ends, and the power it takes."""

    shut_off_pressure: Annotated[Quantity, Measured("pressure", "10 Pa", "20 kPa")]
    free_flow: Annotated[Quantity, Measured("volume_flow", "5 L/min", "2000 L/min")]
    power: Annotated[Quantity, Measured("power", "0.1 W", "200 W")]

    def disagreements(self) -> Iterator[Complaint]:
        """It cannot give more power to the air than it takes."""
        yield from _too_strong(self, "air")


class Duct(Written):
    """The air path's resistance, given by one measured point; pressure rises with flow squared."""

    pressure: Annotated[Quantity, Measured("pressure", "1 Pa", "20 kPa")]
    flow: Annotated[Quantity, Measured("volume_flow", "5 L/min", "2000 L/min")]


class Air(Written):
    """Fans, ducts, helmet and suit."""

    fans: Annotated[int, Plain(1, 8, whole=True)]
    fan: Fan
    duct: Duct
    fan_heat_to_air: Fraction
    helmet_share: Fraction
    face_share: Fraction
    internal_mixing: Annotated[Quantity, Measured("volume_flow", "0 L/min", "2000 L/min")]
    helmet_volume: Annotated[Quantity, Measured("volume", "2 L", "60 L")]
    suit_volume: Annotated[Quantity, Measured("volume", "2 L", "300 L")]
    leak: Annotated[Quantity, Measured("volume_flow", "0.1 L/min", "500 L/min")]
    dead_space: Annotated[Quantity, Measured("volume", "0 L", "0.5 L")]
    evaporation_effectiveness: Fraction


class Visor(Written):
    """What the wearer looks through, and what fogs."""

    area: Annotated[Quantity, Measured("area", "0.005 m2", "0.6 m2")]
    inner_conductance: VisorFilm
    wall_conductance: Annotated[
        Quantity, Measured("surface_conductance", "0.5 W/m2/K", "2000 W/m2/K")
    ]
    anti_fog: Annotated[bool, YesNo()]


class BatteryPack(Written):
    """The pack's battery."""

    chemistry: Annotated[Literal["lithium_ion", "lead_acid"], Word()]
    nominal_voltage: Annotated[Quantity, Measured("voltage", "3 V", "60 V")]
    capacity: Annotated[Quantity, Measured("charge", "0.1 Ah", "200 Ah")]
    resistance: Annotated[Quantity, Measured("resistance", "1 mohm", "5 ohm")]
    cut_off_voltage: Annotated[Quantity, Measured("voltage", "1 V", "60 V")]
    age_factor: Annotated[Quantity, Measured("fraction", "20 %", "100 %")]
    start_charge: Annotated[Quantity, Measured("fraction", "1 %", "100 %")]

    def disagreements(self) -> Iterator[Complaint]:
        """A battery that is cut off above its voltage gives nothing."""
        if self.cut_off_voltage.nominal >= self.nominal_voltage.nominal:
            below = f"a voltage below the nominal_voltage, {self.nominal_voltage.text}"
            yield Complaint(("cut_off_voltage",), below)


class Suit(Written):
    """One suit, whole: whatever it extends is already filled in."""

    code: Annotated[str, Code()]
    name: Annotated[str, Text(80)]
    about: Annotated[str | None, Text()] = None
    extends: Annotated[str | None, Code()] = None
    kit: Annotated[str | None, Code()] = None
    mass: Annotated[Quantity, Measured("mass", "1 kg", "100 kg")]
    pack_mass: Annotated[Quantity, Measured("mass", "0.5 kg", "60 kg")]
    bulk_factor: Annotated[Quantity, Measured("number", "1", "2")]
    speed_factor: Annotated[Quantity, Measured("number", "1", "3")]
    centre_of_gravity_behind: Annotated[Quantity, Measured("length", "-0.5 m", "0.6 m")]
    hip_share: Fraction
    strap: Strap
    wall: Wall
    inner: Inner
    garment: Garment
    water_loop: WaterLoop
    reservoir: Reservoir
    air: Air
    visor: Visor
    battery: BatteryPack
    help: Help | None = None
    fit: Fit | None = None
    sensors: Sensors = ()

    def disagreements(self) -> Iterator[Complaint]:
        """Sensors that cannot be told apart."""
        yield from sensor_complaints(self.sensors)

    @property
    def help_times(self) -> Help:
        """What help takes with this suit; assumed as far as it is not written."""
        return self.help or ASSUMED_HELP


def named_shares(shares: Shares) -> Iterator[tuple[str, Quantity]]:
    """The segments with a share of the garment above nothing, and their shares."""
    for segment in SEGMENTS:
        share: Quantity | None = getattr(shares, segment)
        if share is not None and share.nominal > 0.0:
            yield segment, share


def _too_strong(machine: Pump | Fan, medium: str) -> Iterator[Complaint]:
    """Hold a curve against the power taken; a straight curve gives a quarter of its two ends."""
    given = machine.shut_off_pressure.nominal * machine.free_flow.nominal / 4.0
    if given > machine.power.nominal:
        shown = format_quantity(given, "power")
        yield Complaint(
            ("power",),
            f"at least the {shown} which its curve can give to the {medium}",
            hint="check shut_off_pressure and free_flow as well",
        )
