"""One view: both eyes, what stands before them, the wall, the light, and the focus taken up.

The only door from lenses to sight: pupils follow the light and the number of open eyes, one
accommodation serves both, and each eye's transfer function is computed when asked for.
"""

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from optics.eye.accommodation import held_d
from optics.eye.chromatic import Filters, Spectrum, filtered_light, luminous_transmittance
from optics.eye.colour import Channel, colour_channels
from optics.eye.eye import Eye, EyePair
from optics.eye.grid import TransferFunction
from optics.eye.nerve import Nerve
from optics.eye.pupil import pupil_diameter_mm
from optics.eye.transfer import Accuracy, transfer_function
from optics.eye.wavefront import Wavefront, defocus_of, over_refraction, wavefront_of
from optics.light.beam import Beam, Vector, beam_at_cornea
from optics.light.frame import TrialFrame
from optics.light.lens import EyeSide
from optics.sight.canvas import Canvas
from optics.sight.focus import Focusing, focus_d
from optics.sight.letters import RINGS, SLOAN
from optics.sight.picture import (
    Layer,
    Light,
    Transfer,
    blurred_picture,
    coloured_picture,
    dark_picture,
    pattern_of,
)
from optics.sight.raster import Pattern
from optics.sight.reader import Reading, read_letters
from optics.sight.scene import Scene
from optics.sight.streak import streak_of
from optics.sight.targets import Wall


@dataclass(frozen=True, kw_only=True)
class EyeView:
    """What one eye has before it and makes of it.

    ``over_refraction`` and ``defocus`` are power vectors (M, J0, J45) at the cornea in D;
    ``beam`` is the light that came through the lenses.
    """

    side: EyeSide
    beam: Beam
    pupil_mm: float
    over_refraction: Vector = field(repr=False)
    defocus: Vector = field(repr=False)
    wavefront: Wavefront = field(repr=False)
    nerve: Nerve = field(repr=False)

    @property
    def filters(self) -> Filters:
        """The colours of glass before the eye."""
        return self.beam.filters

    @property
    def transmittance(self) -> float:
        """The share of white light, as the eye weighs it, that what stands before it passes."""
        return transmittance_of(self.beam)

    @property
    def dark(self) -> bool:
        """Whether the eye is covered."""
        return self.beam.dark

    @cached_property
    def transfer(self) -> TransferFunction | None:
        """The optical transfer function; None where the eye gets no light."""
        if self.dark:
            return None
        return transfer_function(self.wavefront, filters=self.filters)

    @cached_property
    def reading(self) -> Reading | None:
        """How it reads letters; None where it gets no light."""
        return self._reading(SLOAN)

    @cached_property
    def reading_rings(self) -> Reading | None:
        """How it reads rings; None where it gets no light."""
        return self._reading(RINGS)

    def _reading(self, alphabet: str) -> Reading | None:
        if self.transfer is None:
            return None
        # glass takes light as a smaller opening would
        open_mm2 = self.transfer.open_mm2 * self.transmittance
        dimmed = replace(self.transfer, open_mm2=open_mm2)
        return read_letters(dimmed, nerve=self.nerve, alphabet=alphabet)

    def open_share(self, transfer: Transfer) -> float:
        """Return the share of light that glass and stops leave of what would enter, 0 to 1."""
        decay = 2.0 * self.wavefront.amplitude_decay  # of light, by the Stiles-Crawford effect
        whole_mm2 = math.pi / decay * -math.expm1(-decay * self.pupil_mm**2 / 4.0)
        return self.beam.transmittance * min(1.0, transfer.open_mm2 / whole_mm2)

    def light(self, *panel: str) -> Light | None:
        """Return white light, through what stands before the eye and the filters of a panel.

        None where the eye gets no light.
        """
        if self.dark:
            return None
        channels = colour_channels((*self.filters, *panel))
        transfers = tuple(self._of_channel(channel) for channel in channels)
        shares = [0.0 if one is None else self.open_share(one) for one in transfers]
        red, green, blue = (
            channel.level * share for channel, share in zip(channels, shares, strict=True)
        )
        return Light(levels=(red, green, blue), transfers=transfers)

    def _of_channel(self, channel: Channel) -> Transfer | None:
        if channel.spectrum is None:
            return None
        return self._shown(channel.spectrum)

    def _shown(self, spectrum: Spectrum | None) -> Transfer | None:
        """Return what a picture is formed by: a rod draws all out into streaks."""
        grooves_deg = self.beam.rod_deg
        if grooves_deg is None:
            return (
                transfer_function(self.wavefront, spectrum=spectrum) if spectrum else self.transfer
            )
        light = spectrum or filtered_light(self.filters, Accuracy.FINE.value.wavelengths)
        return streak_of(self.wavefront, light, grooves_deg)

    def picture(self, scene: Scene, canvas: Canvas) -> Any:
        """Return a scene as the eye forms it, 8-bit.

        Grey (height, width) in white light and in the dark; colour (height, width, 3) through
        filters and from red and green panels.
        """
        if self.dark:
            return dark_picture(canvas)
        if self.filters or scene.duochrome:
            return coloured_picture(self._layers(scene), canvas)
        transfer = self._shown(None)
        if transfer is None:
            return dark_picture(canvas)
        luminance = self.open_share(transfer)
        return blurred_picture(pattern_of(scene), canvas, transfer, luminance=luminance)

    def _layers(self, scene: Scene) -> tuple[Layer, ...]:
        """Return a scene as layers of light through what stands before the eye."""
        parts: list[tuple[Filters, Pattern]] = [
            ((name,), Pattern(rows=scene.rows, panel=panel)) for name, panel in scene.panels
        ] or [((), pattern_of(scene))]
        lights = [(pattern, self.light(*filters)) for filters, pattern in parts]
        return tuple(Layer(pattern=pattern, light=light) for pattern, light in lights if light)


@dataclass(frozen=True, kw_only=True)
class View:
    """What both eyes see at one moment."""

    right: EyeView
    left: EyeView
    accommodation_d: float

    def eye(self, side: EyeSide) -> EyeView:
        """Return the right or the left eye's part."""
        return self.right if side is EyeSide.RIGHT else self.left

    @property
    def better(self) -> EyeView | None:
        """The open eye that reads the smaller letters, the right one if equal; None in the dark."""
        open_eyes = [eye for eye in (self.right, self.left) if eye.reading is not None]
        if len(open_eyes) < 2:
            return open_eyes[0] if open_eyes else None
        return min(open_eyes, key=lambda eye: eye.reading.acuity_logmar if eye.reading else 9.0)


def look(eyes: EyePair, frame: TrialFrame, wall: Wall, fogged_s: float = 0.0) -> View:
    """Return the view of a wall through a trial frame, after some seconds under fog."""
    beams = {side: beam_at_cornea(frame, side, wall.distance_m) for side in EyeSide}
    pupils = {side: natural_pupil_mm(eyes, eyes.eye(side), beams, wall) for side in EyeSide}
    open_eyes = [
        _focusing(eyes.eye(side), beams[side], pupils[side])
        for side in EyeSide
        if not beams[side].dark and beams[side].rod_deg is None  # a streak is no chart to focus
    ]
    accommodation = focus_d(
        open_eyes,
        held_d(eyes.floor_d, eyes.latent_d, fogged_s),
        eyes.amplitude_d,
        tonic_d=eyes.tonic_d,
        lag=eyes.lag,
    )
    right, left = (
        _eye_view(eyes.eye(side), beams[side], pupils[side], accommodation) for side in EyeSide
    )
    return View(right=right, left=left, accommodation_d=accommodation)


def natural_pupil_mm(eyes: EyePair, eye: Eye, beams: dict[EyeSide, Beam], wall: Wall) -> float:
    """Return an eye's pupil on a wall: its own if fixed, else by the light and the open eyes.

    Both eyes' light counts for both pupils: the wall's luminance is taken times the mean
    transmittance of the glass before the open eyes. What a hole in a disc holds back is left out.
    """
    if eye.pupil_mm is not None:
        return eye.pupil_mm
    passed = [transmittance_of(beam) for beam in beams.values() if not beam.dark]
    mean = sum(passed) / len(passed) if passed else 1.0
    return pupil_diameter_mm(
        wall.luminance_cd_m2 * mean, wall.field_deg2, eyes.age_y, eyes_open=len(passed)
    )


def transmittance_of(beam: Beam) -> float:
    """Return the share of white light, as the eye weighs it, that glass before an eye passes."""
    return beam.transmittance * luminous_transmittance(beam.filters)


def _focusing(eye: Eye, beam: Beam, pupil_mm: float) -> Focusing:
    return Focusing(
        eye=eye,
        pupil_mm=pupil_mm,
        stops=beam.stops,
        filters=beam.filters,
        over_refraction=over_refraction(eye, beam),
    )


def _eye_view(eye: Eye, beam: Beam, pupil_mm: float, accommodation_d: float) -> EyeView:
    still_needed = over_refraction(eye, beam)
    return EyeView(
        side=eye.side,
        beam=beam,
        pupil_mm=pupil_mm,
        over_refraction=still_needed,
        defocus=defocus_of(still_needed, accommodation_d),
        wavefront=wavefront_of(eye, beam, pupil_mm=pupil_mm, accommodation_d=accommodation_d),
        nerve=eye.nerve,
    )
