"""The tables of the records, for SQLite and PostgreSQL alike.

Facts are only ever added to: a correction is a new row with the same code that names the row it replaces.
``codes`` holds every code that was ever given, so that none is given twice and every reference is checked.
Words of closed lists come from the domain; what a reference table holds (organisms, drugs, scales, signs) is
not repeated here, because it has an edition of its own.
"""

from __future__ import annotations

from fecallab.records.columns import metadata
from fecallab.records.schema_animals import (
    CARE_KINDS,
    animal_events,
    animals,
    care_entries,
    codes,
    collection,
    control_runs,
    measurements,
    pictures,
    weighings,
)
from fecallab.records.schema_exams import (
    elsewhere_results,
    exams,
    marks,
    preparations,
    reading_counts,
    readings,
    samples,
    sign_answers,
)
from fecallab.records.schema_housing import (
    arrival_members,
    arrival_protocols,
    arrivals,
    count_changes,
    enclosures,
    protocol_words,
    release_animals,
    releases,
    sharings,
    stays,
)
from fecallab.records.schema_ledger import ledger, redactions
from fecallab.records.schema_treatment import (
    case_stages,
    cases,
    closings,
    dose_overrides,
    dose_reactions,
    doses_given,
    other_drugs,
    plan_confirmations,
    plans,
)
from fecallab.records.schema_vet import (
    case_words,
    exam_verdicts,
    mark_verdicts,
    missed_organisms,
    trusted_keys,
    vet_answers,
    vet_page_items,
    vet_pages,
)

SCHEMA_REVISIONS = ("0001", "0002", "0003", "0004", "0005")
"""Every revision of the schema that this program knows, oldest first."""

__all__ = [
    "CARE_KINDS",
    "SCHEMA_REVISIONS",
    "animal_events",
    "animals",
    "arrival_members",
    "arrival_protocols",
    "arrivals",
    "care_entries",
    "case_stages",
    "case_words",
    "cases",
    "closings",
    "codes",
    "collection",
    "control_runs",
    "count_changes",
    "dose_overrides",
    "dose_reactions",
    "doses_given",
    "elsewhere_results",
    "enclosures",
    "exam_verdicts",
    "exams",
    "ledger",
    "mark_verdicts",
    "marks",
    "measurements",
    "metadata",
    "missed_organisms",
    "other_drugs",
    "pictures",
    "plan_confirmations",
    "plans",
    "preparations",
    "protocol_words",
    "reading_counts",
    "readings",
    "redactions",
    "release_animals",
    "releases",
    "samples",
    "sharings",
    "sign_answers",
    "stays",
    "trusted_keys",
    "vet_answers",
    "vet_page_items",
    "vet_pages",
    "weighings",
]
