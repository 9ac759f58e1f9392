"""The JSON Schemas that are shipped, checked by a library of the trade."""

import json
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

import rulekit.show

FOLDER = Path(rulekit.show.__file__).parent


def load_schema(name: str) -> dict[str, Any]:
    """A shipped schema by the name of its command."""
    return json.loads((FOLDER / f"{name}.schema.json").read_text(encoding="utf-8"))


def mistakes(document: Any) -> list[str]:
    """Where a document breaks the schema of its command, in words; one without a result that of failures."""
    failed = set(document) == {"version", "command", "problems"}
    validator = Draft202012Validator(load_schema("failure" if failed else document["command"]))
    return [f"{error.json_path}: {error.message}" for error in validator.iter_errors(json.loads(json.dumps(document)))]
