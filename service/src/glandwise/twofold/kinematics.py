"""Sliding speed and distance of a shaft surface under a seal lip.

Rotational speed is in whole turns per second everywhere in this module.
"""

from __future__ import annotations

from glandwise.twofold import numeric as num


def surface_speed(diameter: num.Real, rotation_speed: num.Real) -> num.Real:
    r"""Circumferential speed of the shaft surface.

    .. math:: v = \pi d n

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    rotation_speed : float or array
        Rotational speed :math:`n` in turns per second; its sign is kept. [rev/s]

    Returns
    -------
    float or array
        Surface speed :math:`v`. [m/s]

    Notes
    -----
    Exact for a rigid shaft. ``rotation_speed`` counts turns, not radians.

    References
    ----------
    Definition; no constant is drawn from a publication.
    """
    return num.pi * diameter * rotation_speed


def rotation_speed(diameter: num.Real, surface_speed: num.Real) -> num.Real:
    r"""Rotational speed that gives a surface speed: the inverse of `surface_speed`.

    .. math:: n = \frac{v}{\pi d}

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    surface_speed : float or array
        Surface speed :math:`v`. [m/s]

    Returns
    -------
    float or array
        Rotational speed :math:`n`; infinite (``nan`` at rest) for a zero diameter. [rev/s]

    Notes
    -----
    Exact.

    References
    ----------
    Definition.
    """
    return num.divide(surface_speed, num.pi * diameter)


def oscillation_mean_speed(diameter: num.Real, half_amplitude: num.Real, frequency: num.Real) -> num.Real:
    r"""Mean magnitude of the surface speed of an oscillating shaft.

    .. math:: \overline{|v|} = 2\,\theta\,d\,f

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    half_amplitude : float or array
        Half of the total swing :math:`\theta`: the shaft turns between :math:`\pm\theta`. [rad]
    frequency : float or array
        Full cycles per second :math:`f`. [1/s]

    Returns
    -------
    float or array
        Path per cycle, four times :math:`\theta d/2`, times the frequency. [m/s]

    Notes
    -----
    Holds for any motion law that goes once from one end of the swing to the other and back in each cycle; it is the
    speed that wear and mean friction power follow.

    References
    ----------
    Definition.
    """
    return 2.0 * half_amplitude * diameter * frequency


def oscillation_peak_speed(diameter: num.Real, half_amplitude: num.Real, frequency: num.Real) -> num.Real:
    r"""Greatest surface speed of a sinusoidally oscillating shaft.

    .. math:: \hat v = \pi\,\theta\,d\,f

    Parameters
    ----------
    diameter : float or array
        Shaft diameter :math:`d`, > 0. [m]
    half_amplitude : float or array
        Half of the total swing :math:`\theta`. [rad]
    frequency : float or array
        Full cycles per second :math:`f`. [1/s]

    Returns
    -------
    float or array
        Speed at mid-swing. [m/s]

    Notes
    -----
    Sinusoidal motion only; it is then :math:`\pi/2` times the mean speed. Other motion laws have other peaks.

    References
    ----------
    Derivative of :math:`\theta \sin 2\pi f t` times :math:`d/2`.
    """
    return num.pi * half_amplitude * diameter * frequency


def sliding_distance(speed: num.Real, duration: num.Real) -> num.Real:
    r"""Distance slid at a mean speed.

    .. math:: s = \overline{|v|}\,t

    Parameters
    ----------
    speed : float or array
        Mean magnitude of the sliding speed. [m/s]
    duration : float or array
        Running time :math:`t`, >= 0. [s]

    Returns
    -------
    float or array
        Sliding distance :math:`s`, >= 0. [m]

    Notes
    -----
    For oscillation use `oscillation_mean_speed`; the direction of turning does not matter.

    References
    ----------
    Definition.
    """
    return num.absolute(speed) * duration
