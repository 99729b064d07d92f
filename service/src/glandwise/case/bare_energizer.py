"""The record of an energizer by itself, with its dimensions, its space and what its material is."""

from __future__ import annotations

from glandwise.case.shape import Shape


class BareEnergizer:
    """One energizer; of the dimensions of other kinds nothing is known.

    Properties are those that the request states in place of those of the material; the deflection is that which the space
    leaves where it is not stated.
    """

    kind: int
    """[EnergizerKind]: Kind of the energizer"""
    material: int
    """[Material]: Material"""
    alloy: int
    """[Name]: Alloy"""
    elastomer: int
    """[Name]: Elastomer"""
    contact_diameter: float
    """d [m]: Diameter of the contact"""
    temperature: float
    """T [K]: Temperature of the energizer"""
    elastic_modulus: float
    """E_e [Pa]: Young's modulus of the energizer"""
    poisson_ratio: float
    """nu_e [-]: Poisson's ratio of the energizer"""
    yield_strength: float
    """S_e [Pa]: Yield strength of the energizer"""
    hardness: float
    """S_A [-]: Hardness of the ring, Shore A"""
    modulus_factor: float
    """f_E [-]: Young's modulus over the nominal one"""
    deflection: float
    """Delta [m]: Deflection from the free state"""
    free_height: float
    """H_free [m]: Free height"""
    gland_height: float
    """H_gland [m]: Gland height"""
    strip_thickness: float
    """t_v [m]: Strip thickness"""
    finger_length: float
    """L_v [m]: Finger length"""
    root_angle: float
    """phi_v [rad]: Root angle of a finger to its land"""
    coverage: float
    """c_v [-]: Share of the circumference that the fingers cover"""
    plate_blend: float
    """f_plate [-]: Share of the plate stiffening"""
    wire_diameter: float
    """d_w [m]: Wire diameter"""
    coil_height: float
    """h_coil [m]: Coil height"""
    coil_width: float
    """w_coil [m]: Coil width"""
    pitch: float
    """p_coil [m]: Pitch of the turns"""
    cant_angle: float
    """phi_coil [rad]: Cant angle"""
    mean_coil_diameter: float
    """D_g [m]: Mean coil diameter"""
    active_coils: float
    """N_g [-]: Active coils"""
    free_length: float
    """L_g [m]: Free developed length"""
    initial_tension: float
    """F_i [N]: Initial tension"""
    ring_diameter: float
    """D_s [m]: Diameter of the coil axis on its seat"""
    section: float
    """d_0 [m]: Section of the ring as made"""
    inside_diameter: float
    """d_i [m]: Inside diameter as made"""
    seat_diameter: float
    """d_s [m]: Diameter that the ring sits on"""


SHAPE = Shape(BareEnergizer)
