"""The duty: what the seal has to live with."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Discriminator, model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.base import FluidName, MaterialName, RequestModel
from glandwise.contract.faults import Misfit, refuse

FORMER_LUBRICATIONS = {"boundary": "flooded", "lubricated": "flooded"}
"""What names of before stand for: no label can tell how much a film carries, since that is worked out."""
Supply = Annotated[
    Literal["flooded", "grease", "mist", "starved", "dry", "boundary", "lubricated"],
    AfterValidator(lambda name: FORMER_LUBRICATIONS.get(name, name)),
]


class Rotation(RequestModel):
    """Continuous rotation, by rotational speed."""

    kind: Literal["rotation"]
    """Continuous rotation."""
    rotational_speed: q.RangedRotationalSpeed
    """Speed of the shaft relative to the seal."""


class SurfaceMotion(RequestModel):
    """Continuous rotation, by the surface speed of the shaft."""

    kind: Literal["surface"]
    """Continuous rotation given by its surface speed."""
    surface_speed: q.RangedSurfaceSpeed
    """Circumferential speed at the sealing diameter."""


class Oscillation(RequestModel):
    """Sinusoidal swinging of the shaft about its axis."""

    kind: Literal["oscillation"]
    """Swinging to and fro."""
    half_amplitude: q.RangedSwingAngle
    """Angle from the middle position to either end."""
    frequency: q.RangedFrequency
    """Full cycles per time."""


Motion = Annotated[Rotation | SurfaceMotion | Oscillation, Discriminator("kind")]


def temperature_misfits(low: Any, normal: Any, high: Any) -> Iterator[Misfit]:
    """Look at the temperatures of duties, of one or of many."""
    yield Misfit(
        "minimum", low > normal, "the minimum lies above the normal temperature", "at most the normal temperature"
    )
    yield Misfit(
        "maximum", high < normal, "the maximum lies below the normal temperature", "at least the normal temperature"
    )


def _range_misfits(t: Temperatures) -> Iterator[Misfit]:
    """Look at the ranges of temperatures, whose ends keep the order of the temperatures."""
    if t.minimum is not None:
        yield Misfit("minimum", q.ends(t.minimum)[0] > q.ends(t.normal)[0],
                     "the minimum lies above the least normal temperature", "at most the low end of the normal temperature")  # fmt: skip
    if t.maximum is not None:
        yield Misfit("maximum", q.ends(t.maximum)[1] < q.ends(t.normal)[1],
                     "the maximum lies below the greatest normal temperature",
                     "at least the high end of the normal temperature")  # fmt: skip


class Temperatures(RequestModel):
    """Temperature of the fluid at the seal."""

    normal: q.RangedTemperature
    """Usual temperature in service."""
    minimum: q.RangedTemperature | None = None
    """Lowest temperature, also at rest; the normal one when absent."""
    maximum: q.RangedTemperature | None = None
    """Highest temperature; the normal one when absent."""

    @model_validator(mode="after")
    def _ordered(self) -> Temperatures:
        low, high = (self.normal if end is None else end for end in (self.minimum, self.maximum))
        refuse(temperature_misfits(low, self.normal, high))
        refuse(_range_misfits(self))
        return self


class Shaft(RequestModel):
    """The surface the lip runs on."""

    material: MaterialName | None = None
    """Name from `/v1/shaft-materials`; gives hardness and conductivity where they are not stated."""
    hardness: q.RangedHardnessHRC | None = None
    """Surface hardness."""
    roughness: q.RangedRoughnessRa | None = None
    """Surface roughness Ra."""
    machining_lead: Literal["none", "present"] | None = None
    """Whether the finish has a lead (a helix left by turning), which pumps fluid past a lip."""


class Bore(RequestModel):
    """The housing bore."""

    diameter: q.BoreDiameter | None = None
    """Nominal bore diameter."""
    material: MaterialName | None = None
    """Name from `/v1/shaft-materials`."""


def one_target(request: Any) -> Any:
    """Let a request state the life wanted beside its duty or in it, once; it then stands in the duty."""
    if request.target_life is not None:
        if request.duty.target_life is not None:
            raise PydanticCustomError(
                "out_of_domain", "the life that is wanted is stated twice",
                {"fields": ("target_life",), "accepted": "target_life here or in the duty, not both"},
            )  # fmt: skip
        object.__setattr__(request, "duty", request.duty.model_copy(update={"target_life": request.target_life}))
        object.__setattr__(request, "target_life", None)
        if (known := request.ranges.pop(("target_life",), None)) is not None:
            request.ranges["duty", "target_life"] = known
    return request


class Duty(RequestModel):
    """Everything an enquiry says about the service of the seal."""

    shaft_diameter: q.RangedShaftDiameter
    """Nominal shaft diameter."""
    motion: Motion
    """How the shaft moves."""
    pressure: q.RangedGaugePressure
    """Fluid pressure less the pressure on the air side; negative for a vacuum."""
    temperature: Temperatures
    """Temperature of the fluid."""
    fluid: FluidName
    """Name from `/v1/fluids`."""
    lubrication: Supply | None = None
    """How the lip is supplied: `flooded` by a liquid, packed with `grease`, wetted by `mist` or splash, `starved` where little
    gets to it, `dry`; that of the fluid when absent. How much of the load a film then carries is worked out. In a gas anything
    but `dry` means an oil of the rules. `boundary` and `lubricated`, names of before, are taken as `flooded`."""
    application: (
        Literal["gearbox", "electric_motor", "compressor", "process_pump", "hygienic_machine", "mixer", "rotary_union", "spindle",
                "engine", "heavy_slow_shaft"] | None
    ) = None  # fmt: skip
    """Machine that the seal is for: the life that is wanted where no target is stated. `compressor` takes blowers,
    `hygienic_machine` pumps and fillers for food and drugs and refrigeration, `mixer` agitators and conveyors."""
    target_life: q.RangedDuration | None = None
    """Life of running that is wanted: a seal fails that reaches it with a probability below 0.05. Where it is absent, the life
    of the rules for the machine is taken, which never fails a seal."""
    contaminants: Literal["clean", "dusty", "abrasive", "wet", "submerged"] | None = None
    """What comes from the air side: nothing, dust, dirt that grinds, rain, splash or a hose (`wet`), or water that stands there
    (`submerged`)."""
    food_contact: q.Bool = False
    """Whether the fluid is food."""
    runout: q.RangedClearance | None = None
    """Dynamic runout of the shaft at the lip, total indicator reading."""
    offset: q.RangedClearance | None = None
    """Static shaft-to-bore offset (misalignment of the centres)."""
    shaft: Shaft = Shaft()
    """The shaft surface."""
    bore: Bore = Bore()
    """The housing."""

    @model_validator(mode="after")
    def _bore_outside_shaft(self) -> Duty:
        if self.bore.diameter is not None and self.bore.diameter <= q.ends(self.shaft_diameter)[1]:
            raise PydanticCustomError(
                "out_of_domain", "the bore is not larger than the shaft",
                {"fields": ("bore", "diameter"), "accepted": "more than the shaft diameter"},
            )  # fmt: skip
        return self
