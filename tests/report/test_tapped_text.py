"""A joint with a tapped hole has no nut, and no answer speaks of one."""

import json
import re

import pytest

from preloadmc import aim, check, compare, derive, infer, rank, run
from preloadmc.errors import CaseError
from preloadmc.report.documents.run import run_document
from preloadmc.report.files import aim_files, compare_files, infer_files, rank_files, run_files
from preloadmc.report.text.case import check_text
from preloadmc.report.text.derive import derive_text
from preloadmc.report.text.run import run_text

FRICTION = {"law": "lognormal", "mean": 0.12, "cov": "9 %"}
# Every limit and loss, and a layer whose limiting pressure is not judged.
TAPPED = {
    "fastener.mate": "tapped hole",
    "fastener.segment": [{"diameter": "12 mm", "length": "10 mm"}],
    "fastener.engagement": "14 mm",
    "fastener.mate_tensile_strength": "400 MPa",
    "friction": {"thread": FRICTION, "bearing": FRICTION, "joint": 0.2},
    "tightening.tool": {"law": "normal", "cov": "5 %"},
    "clamped": [
        {"material": "steel C45", "thickness": "3 mm", "outer_diameter": "24 mm"},
        {"material": "aluminium 6082", "thickness": "20 mm"},
        {"material": "steel", "thickness": "8 mm", "limiting_pressure": "300 MPa"},
    ],
    "joint": {},
    "settling.embedding": {
        "roughness": "10 to 40 um",
        "load_direction": "axial",
        "coated_interfaces": 1,
        "per_coated_interface": "2 um",
    },
    "load": {"axial": "4 kN", "transverse": "2 kN"},
    "temperature": {
        "assembly": "20 degC",
        "state": [{"name": "hot", "fastener": "80 degC", "clamped": "80 degC"}],
    },
    "requirement.allowed_under": 1e-3,
    "requirement.allowed_over": 1e-3,
}
WEDGES = {
    "element": "wedge-locking washers",
    "ramp_angle": "8 deg",
    "hardness": 300,
    "seat_hardness": 500,
    "source": "certificate",
}
SECURING = (
    {"element": "none"},
    {"element": "spring washer"},
    {"element": "serrated washer"},
    {"element": "serrated flange"},
    WEDGES,
    {"element": "adhesive", "breakaway_torque": "20 N·m"},
)
ALTERNATIVES = {
    "name": "as it is",
    "alternative": [
        {"name": "lubricated", "friction": {"thread": 0.10}},
        {"name": "wedges", "securing": {**WEDGES, "hardness": 600}},
    ],
}
FOUND = {
    "evidence": [
        {"fastener": "1", "kind": "residual preload", "value": "12 kN", "sd": "1 kN"},
        {"fastener": "2", "kind": "mark", "value": "not turned"},
    ],
    "suspect": [
        {"library": "dry thread"},
        {"library": "paint under the head"},
        {"library": "transverse slip with rotation"},
    ],
}


def plain(text):
    """Words of a text or page in one line, without its tags."""
    return " ".join(re.sub(r"<[^>]*>", " ", text).split())


def spoken(files):
    """What the files of a report folder say; labels of figures stand in the page and in SVG."""
    texts = (content.decode() for name, content in files.items() if not name.endswith(".png"))
    return "\n".join(map(plain, texts))


def answers(make_case):
    """What each question says of the case, by the question's name."""
    case = make_case(TAPPED)
    found = run(case, samples=2000)
    changed = compare(make_case({**TAPPED, **ALTERNATIVES, "sampling.samples": 2000}))
    inferred = infer(make_case({**TAPPED, **FOUND}), particles=64, runs=2)
    yield "check", check_text(check(case))
    yield "derive", derive_text(derive(case), "metric")
    yield "run", run_text(found)
    yield "document", json.dumps(run_document(found), ensure_ascii=False)
    yield "report of run", spoken(run_files(found, "{}", "metric", "preloadmc run"))
    yield (
        "report of rank",
        spoken(rank_files(rank(case, base_samples=128), "{}", "metric", "preloadmc rank")),
    )
    yield "report of aim", spoken(aim_files(aim(case), "{}", "preloadmc aim"))
    yield "report of compare", spoken(compare_files(changed, "{}", "metric", "preloadmc compare"))
    yield "report of infer", spoken(infer_files(inferred, "{}", "metric", "preloadmc infer"))


def nuts(text):
    """Where a text speaks of a nut, with the words around it."""
    text = plain(text)
    return [
        text[max(0, m.start() - 60) : m.end() + 20] for m in re.finditer(r"(?i)\bnuts?\b", text)
    ]


@pytest.mark.slow
def test_no_answer_on_a_tapped_hole_speaks_of_a_nut(make_case):
    for name, text in answers(make_case):
        assert not nuts(text), name


@pytest.mark.parametrize("securing", SECURING, ids=lambda securing: securing["element"])
def test_no_securing_element_of_a_tapped_hole_speaks_of_a_nut(make_case, securing):
    assert not nuts(check_text(check(make_case({**TAPPED, "securing": securing}))))


def test_a_shank_too_long_for_a_tapped_hole(make_case):
    shank = [{"diameter": "12 mm", "length": "40 mm"}]
    with pytest.raises(CaseError, match="would reach into the mating thread") as caught:
        make_case({**TAPPED, "fastener.segment": shank})
    assert not nuts(str(caught.value))


def test_a_nut_is_spoken_of_where_there_is_one(make_case):
    through = {
        **TAPPED,
        "fastener.mate": "nut",
        "fastener.nut_width_across_flats": "18 mm",
    }
    case = make_case(through)
    for text in (check_text(check(case)), derive_text(derive(case), "metric")):
        assert any("nut factor" in words.casefold() for words in nuts(text))
    assert "Cones from head and nut are cut where they cross" in plain(derive_text(derive(case)))
    tapped = plain(derive_text(derive(make_case(TAPPED))))
    assert "The cone from the head is cut to the layers that it passes" in tapped
    assert "Torque coefficient K = " in tapped


def test_one_seat_and_one_interface_stand_in_the_singular(make_case):
    layers = [{"material": "steel", "thickness": "16 mm"}]
    (said,) = [
        item.value
        for item in make_case({**TAPPED, "clamped": layers, "fastener.segment": []}).assumptions
        if item.path == "settling.embedding"
    ]
    # Rz 10 to 40 um, axial (VDI 2230-1:2003, Table 5, from memory): 3 + 3 + 2, and 2 um of coating.
    assert said.startswith("10 µm: thread, 1 seat, 1 inner interface and 1 coated interface; ")
