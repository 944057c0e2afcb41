"""Pages of every kind, made once."""

import pytest
from page_cases import (
    ALTERNATIVES,
    COMMAND,
    HOSTILE_RECORDS,
    HOSTILE_TESTS,
    SAMPLES,
    SCATTER,
    STATES,
    TABULATED,
)

from preloadmc import aim, compare, decay, fit, infer, load_case, load_records, rank, run
from preloadmc.case_file import Rivals
from preloadmc.report.files import (
    aim_files,
    compare_files,
    decay_files,
    fit_files,
    infer_files,
    rank_files,
    run_files,
)

# Shipped cases whose variance is ranked too.
RANKED = ("conveyor_bracket", "crane_bracket", "pump_cover", "sensor_lid")


@pytest.fixture(scope="session")
def page_cases(session_case, case_files):
    """The cases behind the pages by the page's name."""
    (loosened,) = (path for path in case_files if path.stem == "loosened_cover")
    return {
        "run": session_case(STATES),
        "tabulated": session_case(TABULATED),
        "rank": session_case(SCATTER),
        "compare": session_case({**SCATTER, "name": "as it is", "alternative": ALTERNATIVES}),
        "aim": session_case(SCATTER),
        "infer": load_case(loosened),
    }


class ShippedRuns(dict):
    """The results of shipped cases by name, from fewer samples than they ask; run when asked for.

    A worker makes each once, and a module none that it does not look at.
    """

    def __init__(self, case_files):
        super().__init__()
        self._paths = {path.stem: path for path in case_files}

    def __missing__(self, name):
        self[name] = run(load_case(self._paths[name]), samples=SAMPLES, ranking=name in RANKED)
        return self[name]


@pytest.fixture(scope="session")
def shipped(case_files):
    """The results of the shipped cases by name."""
    return ShippedRuns(case_files)


@pytest.fixture(scope="session")
def loosened_alone(page_cases):
    """What was found of the shipped investigation, without what nobody named: quicker by far."""
    none = Rivals((), (), None)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("preloadmc.questions.infer.question.load_rivals", lambda case: none)
        return infer(page_cases["infer"], particles=64, runs=2)


@pytest.fixture(scope="session")
def folders(page_cases, loosened_alone, tmp_path_factory):
    """The files of a report folder of every kind by the page's name."""
    made = {}
    for name in ("run", "tabulated"):
        result = run(page_cases[name], samples=5000)
        made[name] = run_files(result, "{}", "metric", COMMAND)
    ranked = rank(page_cases["rank"], base_samples=256, second_order=True, convergence=True)
    made["rank"] = rank_files(ranked, "{}", "inch", COMMAND)
    made["compare"] = compare_files(compare(page_cases["compare"]), "{}", "metric", COMMAND)
    made["aim"] = aim_files(aim(page_cases["aim"]), "{}", COMMAND)
    made["infer"] = infer_files(loosened_alone, "{}", "metric", COMMAND)
    tests = tmp_path_factory.mktemp("tests") / "<i>tests & more.csv"
    tests.write_text(HOSTILE_TESTS, encoding="utf-8")
    made["fit"] = fit_files(fit(load_records(tests)), "{}", COMMAND)
    records = tests.with_name("<b>records.csv")
    records.write_text(HOSTILE_RECORDS, encoding="utf-8")
    made["decay"] = decay_files(decay(load_records(records)), "{}", COMMAND)
    return made


@pytest.fixture(scope="session")
def pages(folders):
    """The HTML of every kind of page by its name."""
    return {name: files["report.html"].decode() for name, files in folders.items()}
