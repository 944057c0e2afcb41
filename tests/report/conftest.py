"""Pages of every kind, made once."""

import pytest
from page_cases import ALTERNATIVES, COMMAND, SCATTER, STATES, TABULATED

from preloadmc import aim, compare, infer, load_case, rank, run
from preloadmc.report.files import aim_files, compare_files, infer_files, rank_files, run_files


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


@pytest.fixture(scope="session")
def folders(page_cases):
    """The files of a report folder of every kind by the page's name."""
    made = {}
    for name in ("run", "tabulated"):
        result = run(page_cases[name], samples=5000)
        made[name] = run_files(result, "{}", "metric", COMMAND)
    ranked = rank(page_cases["rank"], base_samples=256, second_order=True, convergence=True)
    made["rank"] = rank_files(ranked, "{}", "inch", COMMAND)
    made["compare"] = compare_files(compare(page_cases["compare"]), "{}", "metric", COMMAND)
    made["aim"] = aim_files(aim(page_cases["aim"]), "{}", COMMAND)
    inferred = infer(page_cases["infer"], particles=64, runs=2)
    made["infer"] = infer_files(inferred, "{}", "metric", COMMAND)
    return made


@pytest.fixture(scope="session")
def pages(folders):
    """The HTML of every kind of page by its name."""
    return {name: files["report.html"].decode() for name, files in folders.items()}
