"""What would be found on a lot that a suspect describes: drawn from its own laws."""

import dataclasses

from preloadmc.chance.dependence import partly_shared
from preloadmc.evidence import MEASURED, Observation
from preloadmc.questions.infer.likelihood import SuspectModel


def found_on_a_lot(case, name, rng):
    """The case with what is found, of the same kinds as in its evidence, if ``name`` is so."""
    investigation = case.investigation
    (suspect,) = [each for each in investigation.suspects if each.name == name]
    evidence = investigation.evidence
    model = SuspectModel(suspect, evidence, rng)
    d = len(model.columns)
    z = partly_shared(
        rng.standard_normal(d), rng.standard_normal((model.fasteners, d)), model.fractions
    )
    inspection = model.inspect(z)
    is_missed = inspection.draw_missed(len(z), rng)
    places = model.places
    findings = tuple(
        _told(finding, inspection.truth(finding, is_missed)[places[finding.fastener]], rng)
        for finding in evidence.findings
    )
    told = dataclasses.replace(evidence, findings=findings)
    return dataclasses.replace(
        case, investigation=dataclasses.replace(investigation, evidence=told)
    )


def _told(finding, truth, rng):
    if isinstance(finding, Observation):
        return dataclasses.replace(finding, seen=bool(rng.random() < truth))
    value = truth + finding.error * rng.standard_normal()
    return dataclasses.replace(finding, sense=MEASURED, value=value)
