"""A small checker of documents against the JSON Schemas shipped, for the keywords these use."""

import json
from pathlib import Path
from typing import Any

import rulekit.show

_TYPES = {
    "object": dict, "array": list, "string": str, "boolean": bool, "null": type(None), "integer": int,
    "number": (int, float),
}  # fmt: skip
_KNOWN = {
    "$schema", "$defs", "$ref", "title", "description", "type", "properties", "required", "additionalProperties",
    "items", "enum", "const", "anyOf", "minimum", "maximum",
}  # fmt: skip


def load_schema(name: str) -> dict[str, Any]:
    """A shipped schema by the name of its command."""
    return json.loads((Path(rulekit.show.__file__).parent / f"{name}.schema.json").read_text(encoding="utf-8"))


def mistakes(value: Any, schema: dict[str, Any], root: dict[str, Any] | None = None, at: str = "$") -> list[str]:
    """Where a document breaks its schema, in words; a keyword that this checker does not know is an error."""
    root = root or schema
    assert set(schema) <= _KNOWN, set(schema) - _KNOWN
    if "$ref" in schema:
        return mistakes(value, root["$defs"][schema["$ref"].removeprefix("#/$defs/")], root, at)
    if "anyOf" in schema:
        return [] if any(not mistakes(value, each, root, at) for each in schema["anyOf"]) else [f"{at}: none fits"]
    found: list[str] = []
    types = schema.get("type", list(_TYPES))
    types = [types] if isinstance(types, str) else types
    if not any(isinstance(value, _TYPES[each]) for each in types) or (value is True and "boolean" not in types):
        return [f"{at}: {value!r} is not {types}"]
    if ("enum" in schema and value not in schema["enum"]) or ("const" in schema and value != schema["const"]):
        found.append(f"{at}: {value!r} is not allowed")
    if isinstance(value, int | float) and not schema.get("minimum", value) <= value <= schema.get("maximum", value):
        found.append(f"{at}: {value!r} is out of bounds")
    if isinstance(value, dict):
        properties = schema.get("properties", {})
        found += [f"{at}: {name} is missing" for name in schema.get("required", []) if name not in value]
        found += [f"{at}: {name} is unknown" for name in value if name not in properties]
        for name in set(value) & set(properties):
            found += mistakes(value[name], properties[name], root, f"{at}.{name}")
    if isinstance(value, list):
        for number, each in enumerate(value):
            found += mistakes(each, schema.get("items", {}), root, f"{at}[{number}]")
    return found
