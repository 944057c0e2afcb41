"""Joints that come loose, by arithmetic that shares no code with the package.

An M12 of class 10.9, tightened to 80 N·m, through 40 mm of steel. Friction, tool, settling, slip of
the parts and a nut that turns back, and what an inspection of twelve fasteners then reads: residual
preload on four, torque to turn back on four, marks on all. Formulas: equilibrium of the nut on its
thread (Shigley, 9th ed., eq. 8-5), a spring for the joint.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

PITCH, D2, DB = 1.75, 12.0 - 0.649519 * 1.75, 15.0
TORQUE = 80e3
# Transverse load over joint friction: with less preload the parts slip.
SLIP_BELOW = 1e3 / 0.15
COMPLIANCE = 4e-6  # mm/N, fastener and parts together
FASTENERS = 12
PRELOAD_ERROR, TORQUE_ERROR, SEEING_ERROR = 1.5e3, 2.0e3, 0.05
LOT = {"by": "lot", "fraction": 0.5}
COMMON = {"by": "lot", "fraction": 1}

DESIGN = {
    "fastener": {
        "thread": "M12",
        "property_class": "10.9",
        "bearing_diameter": f"{DB} mm",
    },
    "friction": {
        "thread": {"law": "lognormal", "mean": 0.13, "cov": "10 %", "shared": LOT},
        "bearing": {"law": "lognormal", "mean": 0.13, "cov": "10 %", "shared": LOT},
        "joint": 0.15,
    },
    "joint": {"fastener_compliance": "3 um/kN", "clamped_compliance": "1 um/kN"},
    "tightening": {
        "method": "torque",
        "torque": "80 N·m",
        "tool": {"law": "normal", "mean": "0 %", "sd": "3 %"},
        "bias": {"law": "normal", "mean": "0 %", "sd": "2 %", "shared": COMMON},
    },
    "settling": {
        "embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %", "shared": LOT},
        "relaxation": {"law": "uniform", "low": "0 %", "high": "6 %"},
    },
    "load": {"transverse": "1 kN"},
    "requirement": {"minimum_preload": "20 kN"},
    "investigation": {"breakaway_ratio": 1.0},
}
# Suspects by laws of their own, each beside the function that draws from the same laws.
SUSPECTS = {
    "dry": {
        "friction": {
            "thread": {"law": "lognormal", "mean": 0.2, "cov": "15 %", "shared": LOT},
            "bearing": {"law": "lognormal", "mean": 0.2, "cov": "15 %", "shared": LOT},
        }
    },
    "tool": {
        "tightening": {"bias": {"law": "normal", "mean": "-20 %", "sd": "8 %", "shared": COMMON}}
    },
    "paint": {
        "settling": {"embedding": {"law": "lognormal", "mean": "35 um", "cov": "45 %",
                                   "shared": LOT}}
    },
    "missed": {
        "missed": {
            "share": {"law": "uniform", "low": "10 %", "high": "60 %", "shared": COMMON},
            "preload_share": {"law": "uniform", "low": "0 %", "high": "15 %"},
        }
    },
}  # fmt: skip


@dataclass(slots=True)
class Lot:
    """Twelve fasteners as they are: preload [N], friction, whether the nut has turned."""

    preload: np.ndarray
    thread: np.ndarray
    bearing: np.ndarray
    turned: np.ndarray
    jammed: np.ndarray


def _lognormal(rng, mean, cov, fraction):
    """Twelve values of which a share of the variance of the logarithm is common."""
    s = math.sqrt(math.log1p(cov * cov))
    z = math.sqrt(fraction) * rng.standard_normal()
    z = z + math.sqrt(1.0 - fraction) * rng.standard_normal(FASTENERS)
    return mean / math.sqrt(1.0 + cov * cov) * np.exp(s * z)


def on(thread, bearing):
    """Torque per preload to tighten [mm]."""
    phi, rho = math.atan(PITCH / (math.pi * D2)), np.arctan(thread / math.cos(math.pi / 6))
    return D2 / 2 * np.tan(phi + rho) + bearing * DB / 2


def back(thread, bearing):
    """Torque per preload to turn back [mm]."""
    phi, rho = math.atan(PITCH / (math.pi * D2)), np.arctan(thread / math.cos(math.pi / 6))
    return D2 / 2 * np.tan(rho - phi) + bearing * DB / 2


def draw(cause, rng):
    """A lot of twelve under a cause: one of `SUSPECTS`, "designed", or one that nobody names."""
    friction = (0.2, 0.15) if cause == "dry" else (0.13, 0.10)
    thread, bearing = (_lognormal(rng, *friction, 0.5) for _ in range(2))
    if cause == "half the lot galling":
        galls = rng.permutation(FASTENERS) < FASTENERS // 2
        thread = np.where(galls, thread * rng.uniform(1.8, 2.6), thread)
    bias = rng.normal(-0.2, 0.08) if cause == "tool" else rng.normal(0.0, 0.02)
    bias = {"tool 28 % low": -0.28, "wrong set torque": -0.26}.get(cause, bias)
    tool = rng.normal(0.0, 0.03, FASTENERS)
    preload = TORQUE * (1.0 + bias) * (1.0 + tool) / on(thread, bearing)
    jammed = np.zeros(FASTENERS, dtype=bool)
    if cause == "missed":
        missed = rng.random(FASTENERS) < rng.uniform(0.1, 0.6)
        preload = np.where(missed, preload * rng.uniform(0.0, 0.15, FASTENERS), preload)
    embedding = (
        _lognormal(rng, 35e-3, 0.45, 0.5) if cause == "paint" else _lognormal(rng, 8e-3, 0.30, 0.5)
    )
    share = rng.uniform(0.0, 0.06, FASTENERS)
    if cause != "missed":
        preload = np.maximum(preload - embedding / COMPLIANCE, 0.0) * (1.0 - share)
    else:
        # Settling scales with what a fastener was given, as the package takes it.
        given = TORQUE * (1.0 + bias) * (1.0 + tool) / on(thread, bearing)
        preload = preload * np.maximum(1.0 - embedding / COMPLIANCE / given, 0.0) * (1.0 - share)
    if cause == "soft foot":
        preload = preload * (1.0 - rng.uniform(0.1, 0.9, FASTENERS))
    if cause == "bottomed nuts":
        jammed = rng.random(FASTENERS) < 0.6
        preload = np.where(jammed, preload * rng.uniform(0.0, 0.3, FASTENERS), preload)
    # Slip turns a nut back that is not jammed: 50 degrees on the average, 0.3 of the variance
    # common.
    turned = (preload < SLIP_BELOW) & ~jammed
    angle = np.where(turned, _lognormal(rng, 50.0, 0.9, 0.3), 0.0)
    preload = np.maximum(preload - angle / 360.0 * PITCH / COMPLIANCE, 0.0)
    return Lot(preload, thread, bearing, turned, jammed)


def inspect(lot, rng, *, preload_scale=1.0):
    """Rows of [[evidence]]: preload on 1 to 4, torque to turn back on 5 to 8, marks on all."""
    rows = []
    for i in range(4):
        read = lot.preload[i] * preload_scale + PRELOAD_ERROR * rng.standard_normal()
        value = f"{read} N" if read >= 3e3 else "below 3 kN"
        rows.append({"fastener": i + 1, "kind": "residual preload", "value": value,
                     "sd": f"{PRELOAD_ERROR} N"})  # fmt: skip
    for i in range(4, 8):
        torque = lot.preload[i] * back(lot.thread[i], lot.bearing[i])
        if lot.jammed[i]:
            torque = 0.7 * TORQUE
        read = max(torque + TORQUE_ERROR * rng.standard_normal(), 0.0)
        rows.append({"fastener": i + 1, "kind": "loosening torque", "value": f"{read} Nmm",
                     "sd": f"{TORQUE_ERROR} Nmm"})  # fmt: skip
    for i in range(FASTENERS):
        seen = bool(lot.turned[i]) != (rng.random() < SEEING_ERROR)
        rows.append({"fastener": i + 1, "kind": "mark", "error": SEEING_ERROR,
                     "value": "turned" if seen else "not turned"})  # fmt: skip
    return rows


def investigation(cause, rng, suspects=tuple(SUSPECTS)):
    """Tables of a case file about a lot drawn under a cause."""
    lot = draw(cause, rng)
    scale = 0.65 if cause == "instrument 35 % low" else 1.0
    return {
        **DESIGN,
        "evidence": inspect(lot, rng, preload_scale=scale),
        "suspect": [{"name": name, **SUSPECTS[name]} for name in suspects],
    }
