"""Validate an exported RO-Crate with a general-purpose validator (PyPI: roc-validator, rocrate).

usage: check_crate.py FOLDER

Against RO-Crate 1.1 and the Process Run Crate profile 0.5, every REQUIRED check but the two that do
nothing but fetch the JSON-LD context from its address; the context itself is that which the package
`rocrate` ships. So the check needs no network.
"""

import json
import pathlib
import sys

import rocrate
from rocrate_validator import models, services
from rocrate_validator.utils import document_loader

context = json.loads((pathlib.Path(rocrate.__file__).parent / "data" / "ro-crate.jsonld").read_text())
document_loader._fetch_json_ld = lambda url: context

passed = True
for profile in ["ro-crate-1.1", "process-run-crate-0.5"]:
    settings = services.ValidationSettings(
        rocrate_uri=sys.argv[1],
        profile_identifier=profile,
        requirement_severity=models.Severity.REQUIRED,
        skip_checks=["ro-crate-1.1_3.1", "ro-crate-1.1_3.2"],
    )
    result = services.validate(settings)
    for issue in result.get_issues():
        print(issue.severity, issue.check.identifier, issue.message)
    print(profile, "passed" if result.passed() else "failed")
    passed = passed and result.passed()
sys.exit(0 if passed else 1)
