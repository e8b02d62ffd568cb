"""Holds an export against the schemas: exchange.py SCHEMA_FOLDER EXPORT."""
import copy
import json
import sys

import jsonschema


def validator(name):
    with open(sys.argv[1] + "/" + name, encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def main():
    first, entry = validator("export-1.json"), validator("entry-1.json")
    with open(sys.argv[2], encoding="utf-8", newline="\n") as file:
        lines = [json.loads(line) for line in file]
    first.validate(lines[0])
    kinds = {}
    for line in lines[1:]:
        entry.validate(line)
        kinds.setdefault(line["kind"], line)
    # A schema that lets everything pass would show nothing.
    assert {"opened", "presentation", "case"} <= set(kinds), kinds.keys()
    for kind, key in (("presentation", "lane"), ("case", "disposition")):
        wrong = copy.deepcopy(kinds[kind])
        del wrong["body"][key]
        assert not entry.is_valid(wrong), kind
    wrong = dict(lines[1], hash="no hash")
    assert not entry.is_valid(wrong)
    assert not first.is_valid(lines[1])


main()
