"""Small cases behind the pages, with names that try to break out of them."""

# Of a run: enough for figures and words.
SAMPLES = 8192
# Every kind of page; the cases and the folders behind them are made in conftest.py.
KINDS = ("run", "tabulated", "rank", "compare", "aim", "infer", "fit", "decay")
# Kinds of which the input is tests, and no case.
OF_TESTS = ("fit", "decay")

HOSTILE = """<script>alert("1")</script> 'x' & </pre> ]]> --> </svg> <img src=x onerror=y> &lt;"""
STATE = '<b>hot</b> "x" & ]]> --> of a summer\'s day'
FRICTION = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
AROUND = {"law": "normal", "mean": "60 degC", "sd": "4 K"}
TESTS = [0.131, 0.138, 0.144, 0.15, 0.155, 0.16, 0.17, 0.18, 0.19, 0.25]
SCATTER = {
    "title": HOSTILE,
    "friction.thread": FRICTION,
    "friction.bearing": FRICTION,
    "friction.correlation": 0.4,
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %"},
    "requirement.minimum_preload": "33 kN",
    "requirement.allowed_under": "1 %",
    "requirement.allowed_over": "1 %",
    "deterministic": {"scatter_ratio": 1.6},
}
STATES = {
    **SCATTER,
    "joint.fastener_compliance": None,
    "joint.clamped_compliance": None,
    "clamped": [{"material": "steel", "thickness": "30 mm"}],
    "temperature.assembly": "20 degC",
    "temperature.state": [
        {"name": STATE, "fastener": AROUND, "clamped": AROUND},
        {"name": "W" * 60, "fastener": "390 degC", "clamped": "390 degC"},
    ],
}
TABULATED = {
    "title": "Nut factors of ten tests",
    "friction.thread": None,
    "friction.bearing": None,
    "friction.nut_factor": {"law": "tabulated", "values": TESTS},
    "requirement.minimum_preload": "30 kN",
}
ALTERNATIVES = [
    {"name": "lubricant <i>", "friction": {"thread": {**FRICTION, "cov": "6 %"}}},
    {
        "name": "a tool of which the name is far longer than any column",
        "tightening": {"torque": "80 N·m"},
    },
]
# Frictions of invented tests in two lots, whose names try the same.
HOSTILE_TESTS = (
    'lot,"thread <i>&amp;</i> ]]>"\n'
    + "".join(f"<b>A</b> --> & 'x',{0.12 + 0.004 * i:.3f}\n" for i in range(6))
    + "".join(f"{'W' * 60},{0.15 - 0.003 * i:.3f}\n" for i in range(6))
)
# Records of invented vibration tests of two elements, one of them named to break out.
HOSTILE_RECORDS = "test,element,cycles,preload [kN]\n" + "".join(
    f"T{i},{'<b>wedge</b> --> &' if i % 2 else ''},{cycles},{40 - (4 + i % 3) * cycles / 900}\n"
    for i in range(6)
    for cycles in (0, 900, 2000)
)
COMMAND = "preloadmc ask inputs/joint.toml"
