"""What the API answers, as JSON Schema: a change here is a change to a promise."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
TEXT_OR_NULL: Schema = {"type": ["string", "null"]}
TRUTH: Schema = {"type": "boolean"}
COUNT: Schema = {"type": "integer", "minimum": 0}
COUNT_OR_NULL: Schema = {"type": ["integer", "null"], "minimum": 0}
TIME: Schema = {"type": "string", "format": "date-time"}


def ref(name: str) -> Schema:
    """A reference to a schema by its name."""
    return {"$ref": f"#/components/schemas/{name}"}


def several(of: Schema) -> Schema:
    """A list."""
    return {"type": "array", "items": of}


def shape(**properties: Schema) -> Schema:
    """An object in which all of these are there, and nothing else."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


_STANDS = {
    "label": TEXT,
    "status": TEXT,
    "camera": TEXT_OR_NULL,
    "holds": several(TEXT),
    "uncovered": several(TEXT),
    "cycles": COUNT,
    "bytes_logged": COUNT,
    "who": TEXT,
    "next": TEXT,
    "may_format": {"type": ["boolean", "null"]},
}
_DRIVE = {
    "drive": TEXT,
    "kind": TEXT,
    "capacity_bytes": COUNT,
    "bytes": COUNT,
    "place": TEXT,
    "holder": TEXT_OR_NULL,
    "seal": TEXT_OR_NULL,
    "failed": TRUTH,
    "lost": TRUTH,
    "returned": TRUTH,
}
_ON_DRIVE = shape(
    roll=TEXT, card=TEXT, level=TEXT, counts=TRUTH, covered=TRUTH, bytes=COUNT_OR_NULL
)
_COPY = shape(
    drive=TEXT,
    level=TEXT,
    counts=TRUTH,
    place=TEXT,
    holder=TEXT_OR_NULL,
    made_from=TEXT_OR_NULL,
    bytes=COUNT_OR_NULL,
    clips=COUNT_OR_NULL,
    finished_at=TIME,
)
_DETAIL = {
    "type": "object",
    "properties": {"line": {"type": "integer", "minimum": 1}, "field": TEXT, "message": TEXT},
    "required": ["message"],
    "additionalProperties": False,
}

ANSWERS: dict[str, Schema] = {
    "Error": shape(error=shape(code=TEXT, message=TEXT, details=several(_DETAIL))),
    "Result": shape(id={"type": "string", "format": "uuid"}, result={"enum": ["logged", "again"]}),
    "Results": shape(facts=several(ref("Result"))),
    "Health": shape(ok=TRUTH),
    "CardStands": shape(**_STANDS),
    "Cards": shape(cards=several(ref("CardStands"))),
    "HistoryLine": shape(
        at=TIME, event=TEXT, id=TEXT, says=TEXT, mishaps=several(TEXT), voided_by=TEXT_OR_NULL
    ),
    "Card": shape(
        **_STANDS,
        labels=several(TEXT),
        reasons_not_to_clear=several(TEXT),
        history=several(ref("HistoryLine")),
    ),
    "CardFacts": shape(label=TEXT, facts=several(ref("HistoryLine"))),
    "Roll": shape(
        roll=TEXT,
        names=several(TEXT),
        card=TEXT,
        on_card=TRUTH,
        closed=TRUTH,
        owes=TRUTH,
        covered=TRUTH,
        loaded_as=TEXT,
        camera=TEXT_OR_NULL,
        bytes=COUNT_OR_NULL,
        clips=COUNT_OR_NULL,
        verdict=TEXT_OR_NULL,
        copies=several(_COPY),
    ),
    "Rolls": shape(rolls=several(ref("Roll"))),
    "DriveStands": shape(**_DRIVE),
    "Drives": shape(drives=several(ref("DriveStands"))),
    "Drive": shape(**_DRIVE, rolls=several(_ON_DRIVE)),
    "Mishap": shape(
        card=TEXT,
        kind=TEXT,
        roll=TEXT_OR_NULL,
        severity=TEXT,
        drive=TEXT_OR_NULL,
        fact=TEXT,
        to_do=TEXT,
    ),
    "Mishaps": shape(mishaps=several(ref("Mishap"))),
    "Now": shape(
        cards=several(ref("CardStands")),
        mishaps=several(ref("Mishap")),
        rolls_below_rule=several(TEXT),
        doubts=several(shape(kind=TEXT, cards=several(TEXT), rolls=several(TEXT), says=TEXT)),
        rule=shape(
            copies=COUNT,
            level=TEXT,
            kinds=COUNT,
            off_site=COUNT,
            receipt=TRUTH,
            hold_days=COUNT,
        ),
        time_zone=TEXT,
        day_starts=TEXT,
    ),
}
