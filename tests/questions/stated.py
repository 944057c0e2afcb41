"""Investigations of a preload that is known by its law alone."""

LOT = {"by": "lot", "fraction": 0.5}
# A preload known by its law alone: the evidence then has a closed form.
STATED = {
    "friction": {"thread": 0.12},
    "fastener.property_class": None,
    "requirement": {"minimum_preload": "28 kN", "maximum_preload": "62 kN"},
}


def preload_law(mean, sd, **more):
    return {
        "method": "stated scatter",
        "preload": {"law": "normal", "mean": f"{mean} kN", "sd": f"{sd} kN", **more},
    }


def reading(fastener, value, sd="2 kN", **more):
    return {"fastener": fastener, "kind": "residual preload", "value": value, "sd": sd, **more}


def stated_case(make_case, findings, suspects, fraction=0.5, **more):
    shared = {"shared": {"by": "lot", "fraction": fraction}}
    return make_case(
        {
            **STATED,
            "tightening": preload_law(40, 4, **shared),
            "evidence": findings,
            "suspect": [
                {"name": name, "tightening": preload_law(mean, sd, **shared), "prior": prior}
                for name, mean, sd, prior in suspects
            ],
            **more,
        }
    )
