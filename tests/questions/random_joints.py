"""Joints drawn at random: ordinary ones, whose window is met, missed or closed from any side."""

from __future__ import annotations

import numpy as np

# Thread, hole and head as in ISO 273 (medium) and ISO 4014 to whole tenths; the joints are no
# check values, only ordinary.
_SIZES = {
    "M8": ("9 mm", "11.6 mm", 24.6),
    "M10": ("11 mm", "14.6 mm", 48.0),
    "M12": ("13.5 mm", "16.6 mm", 84.0),
    "M16": ("17.5 mm", "22.5 mm", 206.0),
    "M20": ("22 mm", "28.2 mm", 415.0),
}
_CLASSES = {"8.8": 640.0, "10.9": 940.0, "12.9": 1100.0}


def random_joint(seed: int) -> dict[str, object]:
    """Return the tables of a case; the same for the same seed."""
    rng = np.random.default_rng(seed)
    thread = str(rng.choice(list(_SIZES)))
    grade = str(rng.choice(list(_CLASSES)))
    hole, head, torque = _SIZES[thread]
    # The torque that makes about 70 % of yield with mu = 0.12, as the table has it for 8.8.
    torque *= _CLASSES[grade] / 640.0 * rng.uniform(0.7, 1.15)
    pitchless = {"M8": 36.6, "M10": 58.0, "M12": 84.3, "M16": 157.0, "M20": 245.0}[thread]
    preload = 0.65 * _CLASSES[grade] * pitchless  # [N], as a scale for loads and limits
    data: dict[str, object] = {
        "title": f"Joint {seed}",
        "fastener": {
            "thread": thread,
            "property_class": grade,
            "material": "steel",
            "hole_diameter": hole,
            "bearing_outer_diameter": head,
        },
        "clamped": [
            {
                "material": str(rng.choice(["steel", "aluminium 6082"])),
                "thickness": f"{rng.uniform(10, 40):.1f} mm",
                "limiting_pressure": f"{rng.uniform(400, 1000):.0f} MPa",
            },
            {
                "material": "steel",
                "thickness": f"{rng.uniform(10, 40):.1f} mm",
                "limiting_pressure": f"{rng.uniform(500, 1000):.0f} MPa",
            },
        ],
        "friction": {
            "thread": _law(rng, rng.uniform(0.1, 0.15), 0.03, 0.09),
            "bearing": _law(rng, rng.uniform(0.1, 0.15), 0.03, 0.09),
            "correlation": float(rng.choice([0.0, 0.3, 0.6])),
        },
        "settling": {"embedding": _law(rng, 10.0, 0.2, 0.4, " um")},
        "requirement": {
            "allowed_under": float(rng.choice([1e-2, 1e-3, 1e-4])),
            "allowed_over": float(rng.choice([1e-2, 1e-3, 1e-4])),
        },
    }
    data["tightening"] = _tightening(rng, torque)
    _load(rng, data, preload)
    if rng.random() < 0.3:
        state = {"name": "hot", "fastener": "80 degC", "clamped": "100 degC"}
        data["temperature"] = {"assembly": "20 degC", "state": [state]}
    return data


def _law(rng, mean, low, high, unit=""):
    cov = f"{100 * rng.uniform(low, high):.1f} %"
    return {
        "law": "lognormal",
        "mean": f"{mean:.4g}{unit}" if unit else round(float(mean), 4),
        "cov": cov,
    }


def _tightening(rng, torque):
    tool = {"law": "normal", "cov": f"{100 * rng.uniform(0.01, 0.08):.1f} %"}
    if rng.random() < 0.25:
        return {
            "method": "torque then angle",
            "torque": f"{0.3 * torque:.3g} N·m",
            "angle": {"law": "normal", "mean": f"{rng.uniform(25, 60):.0f} deg", "sd": "2 deg"},
            "tool": tool,
        }
    return {"method": "torque", "torque": f"{torque:.3g} N·m", "tool": tool}


def _load(rng, data, preload):
    requirement = data["requirement"]
    kind = rng.choice(["stated", "slip", "axial", "clamp"])
    share = rng.uniform(0.3, 0.65)
    if kind == "slip":
        data["friction"]["joint"] = _law(rng, 0.18, 0.05, 0.12)
        data["load"] = {"transverse": f"{0.18 * share * preload / 1e3:.4g} kN"}
        requirement["minimum_preload"] = {"from": "no slip"}
        return
    if kind == "axial":
        data["load"] = {"axial": f"{0.8 * share * preload / 1e3:.4g} kN"}
        requirement["minimum_preload"] = {"from": "no separation"}
        return
    if kind == "clamp":
        data["load"] = {"axial": f"{0.3 * preload / 1e3:.4g} kN"}
        requirement["minimum_clamp"] = f"{0.6 * share * preload / 1e3:.4g} kN"
        return
    requirement["minimum_preload"] = f"{share * preload / 1e3:.4g} kN"
