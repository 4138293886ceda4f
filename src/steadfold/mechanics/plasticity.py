"""Von Mises plasticity in plane stress, layer by layer through the thickness of the shells.

Perfectly plastic: no hardening is counted on. Sources: Simo & Taylor, 'A return mapping algorithm for
plane stress elastoplasticity', Int. J. Num. Meth. Eng. 22 (1986) 649-670; Simo & Hughes, 'Computational
Inelasticity' (1998), ch. 3.4 (recalled).
"""

from __future__ import annotations

import numpy as np

from .parts import FloatArray


def layer_points(each_side: int) -> tuple[FloatArray, FloatArray]:
    """Places (-1 to 1) and weights (sum 2) through the thickness: Gauss points on either side of the middle.

    So both the elastic stiffness and the plastic moment fy t² / 4 of a fully yielded plate are exact;
    points over the whole thickness miss the latter by up to a tenth. each_side: 2 or more.
    """
    if each_side < 2:
        raise ValueError("two or more layers on each side of the middle")
    places, weights = np.polynomial.legendre.leggauss(each_side)
    upper = 0.5 * (places + 1.0)
    return np.concatenate([-upper[::-1], upper]), 0.5 * np.concatenate([weights[::-1], weights])


def returned(trial: FloatArray, modulus: FloatArray, poisson: FloatArray,
             strength: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Stresses (k, 3: x, y, xy) brought back to the yield surface, and the plastic multiplier (k,).

    trial (k, 3): elastic stresses in MPa. Stresses inside the surface are left alone, with a multiplier of 0.
    """
    total, apart, shear = trial[:, 0] + trial[:, 1], trial[:, 0] - trial[:, 1], trial[:, 2]
    mean, deviator = total**2 / 6.0, apart**2 / 2.0 + 2.0 * shear**2
    aim = 2.0 / 3.0 * strength**2
    mean_rate, deviator_rate = modulus / (3.0 * (1 - poisson)), modulus / (1 + poisson)
    multiplier = np.zeros(len(trial))
    beyond = np.flatnonzero(mean + deviator > aim * (1 + 1e-14))
    if beyond.size:
        m, d, a = mean[beyond], deviator[beyond], aim[beyond]
        am, ad = mean_rate[beyond], deviator_rate[beyond]
        step = np.zeros(len(beyond))
        for _ in range(60):  # Newton on sqrt(value): from below, monotone
            by_mean, by_deviator = 1 + am * step, 1 + ad * step
            value = m / by_mean**2 + d / by_deviator**2
            slope = -2 * (m * am / by_mean**3 + d * ad / by_deviator**3)
            root = np.sqrt(value)
            change = (np.sqrt(a) / root - 1) * 2 * value * root / (slope * np.sqrt(a))
            step += change
            if np.abs(change).max() <= 1e-15 + 1e-13 * step.max():
                break
        multiplier[beyond] = step
    total, scale = total / (1 + mean_rate * multiplier), 1.0 / (1 + deviator_rate * multiplier)
    apart = apart * scale
    return np.stack([(total + apart) / 2, (total - apart) / 2, shear * scale], axis=1), multiplier


def tangent(stress: FloatArray, multiplier: FloatArray, modulus: FloatArray, poisson: FloatArray) -> FloatArray:
    """Consistent tangent (k, 3, 3) after `returned`; the elastic law where the multiplier is 0."""
    mean = modulus / (1 - poisson) / (1 + modulus / (3 * (1 - poisson)) * multiplier)
    deviator = modulus / (1 + poisson) / (1 + modulus / (1 + poisson) * multiplier)
    law = np.zeros((len(stress), 3, 3))
    law[:, 0, 0] = law[:, 1, 1] = 0.5 * (mean + deviator)
    law[:, 0, 1] = law[:, 1, 0] = 0.5 * (mean - deviator)
    law[:, 2, 2] = 0.5 * deviator
    flowing = multiplier > 0
    total, apart = stress[:, 0] + stress[:, 1], stress[:, 0] - stress[:, 1]
    way = np.stack([total / 6 + apart / 2, total / 6 - apart / 2, 2 * stress[:, 2]], axis=1)
    pushed = np.einsum("kij,kj->ki", law, way)
    resistance = np.einsum("ki,ki->k", way, pushed)
    share = np.where(flowing, 1.0, 0.0) / np.where(flowing, resistance, 1.0)
    return np.asarray(law - share[:, None, None] * pushed[:, :, None] * pushed[:, None, :])
