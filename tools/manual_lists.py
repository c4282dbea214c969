"""Write the manual's lists from the source: rules, events, calculations, errors, commands, settings, files.

.venv/bin/python tools/manual_lists.py          writes what stands below the mark of each page in PAGES
.venv/bin/python tools/manual_lists.py --check  says which of them would change, exit 1 if any
"""

from __future__ import annotations

import ast
import inspect
import re
import sys
from collections.abc import Callable, Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
SOURCE = ROOT / "src" / "lumenward"
DOCS = ROOT / "docs"
MARK = "<!-- Below this line tools/manual_lists.py writes from the source. -->"
_REFUSING = {"Refusal": 0, "no": 0, "Finding": 0, "_no": 0}
_DYNAMIC = {
    "no-library": "No library has been adopted here yet.",
    "no-policy": "No policy has been adopted here yet.",
    "not-done": "An act comes before what it builds on.",
    "wrong-washer": "It was started in another machine.",
    "wrong-program": "It was started with another program.",
}
_ROOMS = {
    "quantities": "Numbers and units", "equipment": "Library and policy files", "hydraulics": "Channels, air, leaks",
    "chemistry": "Dosing, basins, logs", "journey": "Acts at the sink", "ledger": "Ledger and proofs",
    "calculations": "Calculations", "records": "Records and people", "interchange": "Codes, files, PDF",
    "screens": "Pages", "api": "API", "cli": "Shell", "demo": "Demo", "rulebook": "Rules",
}  # fmt: skip


def codes() -> dict[str, tuple[str, str]]:
    """Return every error code with the room that uses it first and an example of what it says."""
    found: dict[str, tuple[str, str]] = {}
    for path in sorted(SOURCE.rglob("*.py")):
        room = path.relative_to(SOURCE).parts[0].removesuffix(".py")
        for code, says in _codes_in(ast.parse(path.read_text("utf-8"))):
            if code not in found or (not found[code][1] and says):
                found[code] = (room, says)
    for code, says in _DYNAMIC.items():
        found.setdefault(code, ("journey", says))
    return dict(sorted(found.items()))


def _codes_in(tree: ast.AST) -> Iterator[tuple[str, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            yield from _codes_of(node)
        elif isinstance(node, ast.FunctionDef) and node.name == "_code":
            yield from _table(node)


def _codes_of(call: ast.Call) -> Iterator[tuple[str, str]]:
    name = getattr(call.func, "id", getattr(call.func, "attr", ""))
    if name not in _REFUSING or not call.args:
        return
    says = next((text for arg in call.args[1:] if (text := _text(arg)) and " " in text), "")
    for choice in _choices(call.args[0]):
        if " " not in choice and choice not in ("broken", "stale"):
            yield choice, says
    if (
        name == "Finding"
        and isinstance(call.args[0], ast.Constant)
        and call.args[0].value in ("broken", "stale")
    ):
        yield from ((choice, says) for choice in _choices(call.args[1]))


def _choices(node: ast.expr) -> list[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    return [*_choices(node.body), *_choices(node.orelse)] if isinstance(node, ast.IfExp) else []


def _table(function: ast.FunctionDef) -> Iterator[tuple[str, str]]:
    for node in ast.walk(function):
        if isinstance(node, ast.Dict):
            for value in node.values:
                yield from ((choice, "") for choice in _choices(value))
        elif isinstance(node, ast.Call) and len(node.args) == 2:
            yield from ((choice, "") for choice in _choices(node.args[1]))


def _text(node: ast.expr) -> str:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    if isinstance(node, ast.JoinedStr):
        parts = (part.value if isinstance(part, ast.Constant) else "…" for part in node.values)
        return "".join(str(part) for part in parts)
    if isinstance(node, ast.BinOp):
        return (_text(node.left) or "…") + (_text(node.right) or "…")
    return _text(node.body) if isinstance(node, ast.IfExp) else ""


def errors_page() -> str:
    """Return the page of error codes."""
    found = sorted(codes().items(), key=lambda one: (list(_ROOMS).index(one[1][0]), one[0]))
    parts: list[str] = []
    for room, group in groupby(found, key=lambda one: one[1][0]):
        rows = "\n".join(f"| `{code}` | {_cell(says)} |" for code, (_, says) in group)
        parts.append(f"\n## {_ROOMS[room]}\n\n| code | says, for example |\n|---|---|\n{rows}\n")
    return "".join(parts)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "/") or "…"


def rules_page() -> str:
    """Return the page of rules."""
    from lumenward.rulebook import RULES

    parts: list[str] = []
    for group, rules in groupby(RULES.values(), key=lambda rule: rule.group):
        parts.append(f"\n## {group}\n")
        for rule in rules:
            parts.append(
                f"\n### {rule.title}\n\n`{rule.id}`. Source: {rule.source}. Authority: {rule.authority}.\n"
            )
    return "".join(parts)


def events_page() -> str:
    """Return the page of event kinds."""
    from lumenward.journey.kinds import KINDS

    titles = {
        "endoscope": "About an endoscope", "event": "Corrections", "lot": "Lots", "charge": "Charges of a basin",
        "connector-set": "Connector sets", "batch": "Detergent batches", "person": "People", "house": "The house",
    }  # fmt: skip
    parts: list[str] = []
    for about, kinds in groupby(KINDS.values(), key=lambda kind: kind.about):
        parts.append(f"\n## {titles[about]}\n")
        for kind in kinds:
            says = " ".join((kind.body.__doc__ or "").split())
            keys = [
                f"`{name}`{'' if info.is_required() else '?'}"
                for name, info in kind.body.model_fields.items()
            ]
            parts.append(f"\n### {kind.name}\n\n{says}\n\nBody: {', '.join(keys)}.\n")
    return "".join(parts)


def calculations_page() -> str:
    """Return the page of calculations."""
    from lumenward import calculations

    parts: list[str] = []
    for name in calculations.NAMES:
        module = calculations.find(name)
        purpose = " ".join((module.__doc__ or "").strip().split("\n\n")[0].split())
        leaves = "\n".join(f"- {sentence}" for sentence in module.LEAVES_OUT)
        needs = ", ".join(f"`{info.alias or key}`" for key, info in module.Input.model_fields.items())
        gives = ", ".join(f"`{info.alias or key}`" for key, info in module.Output.model_fields.items())
        parts.append(
            f"\n## {name}\n\n{purpose}\n\nTakes {needs}. Gives {gives}.\n\nLeaves out:\n\n{leaves}\n"
        )
    return "".join(parts)


def commands_page() -> str:
    """Return the list of commands."""
    from lumenward.cli import commands

    parts = []
    for group, members in commands._COMMANDS.items():
        for name, target in members.items():
            function = commands._function(f"lumenward.cli.{target}")
            parts.append(f"\n## lumenward {f'{group} ' if group else ''}{name}\n\n{_command(function)}\n")
    return "".join(parts)


def _command(function: Callable[..., int]) -> str:
    text = inspect.getdoc(function) or ""
    said, _, options = text.partition("\nParameters\n")
    said = re.sub(r"^Example: (.*)$", r"```console\n$ \1\n```", said, flags=re.MULTILINE).strip()
    listed = re.findall(r"^(\w+)\n    (.*(?:\n    .*)*)", options.replace("----------\n", ""), re.MULTILINE)
    told = dict(listed)
    rows = []
    for name, parameter in inspect.signature(function).parameters.items():
        shown = "--json" if name == "as_json" else f"--{name.replace('_', '-')}"
        if parameter.kind is inspect.Parameter.POSITIONAL_ONLY:
            shown = name.upper()
        words = "one JSON object instead of words" if name == "as_json" else told.get(name, "")
        rows.append(f"- `{shown}`" + (f": {' '.join(words.split())}" if words else ""))
    return "\n\n".join(part for part in (said, "\n".join(rows)) if part)


def settings_page() -> str:
    """Return the list of settings."""
    from lumenward.records.environment import VARIABLES

    return "".join(f"\n## {name}\n\n{says}\n" for name, says in VARIABLES.items())


def equipment_page() -> str:
    """Return every file of a library with its keys."""
    from lumenward.equipment.loader import schemas

    parts = []
    for name, schema in schemas().items():
        if name == "policy.toml":
            continue
        parts.append(f"\n## {name}\n")
        if name.startswith("endoscopes"):
            parts.append(_keys("The model itself", schema))
        for title, one in schema.get("$defs", {}).items():
            if one.get("type") == "object" and title != "Stated":
                parts.append(_keys(_spaced(title), one))
    stated = schemas()["endoscopes/*.toml"]["$defs"]["Stated"]
    parts.append("\n## Stated numbers\n" + _keys("One entry of `states`", stated))
    return "".join(parts)


def policies_page() -> str:
    """Return every key of a policy file."""
    from lumenward.equipment.loader import schemas

    schema = schemas()["policy.toml"]
    parts = ["\n## policy.toml\n", _keys("The policy itself", schema)]
    parts += [_keys(_spaced(title), one) for title, one in schema["$defs"].items() if title != "Stated"]
    return "".join(parts)


def _keys(title: str, schema: dict[str, Any]) -> str:
    says = " ".join(schema.get("description", "").split())
    needed = set(schema.get("required", ()))
    rows = "\n".join(
        f"| `{key}`{'' if key in needed else '?'} | {_type(one)} |"
        for key, one in schema["properties"].items()
    )
    return f"\n### {title}\n\n{says}\n\n| key | is |\n|---|---|\n{rows}\n"


def _type(one: dict[str, Any]) -> str:
    if "enum" in one or "const" in one:
        return "one of " + ", ".join(f"`{value}`" for value in one.get("enum", [one.get("const")]))
    if "$ref" in one:
        return _spaced(one["$ref"].rpartition("/")[2]).lower()
    for key in ("anyOf", "oneOf"):
        if key in one:
            return " or ".join(dict.fromkeys(_type(part) for part in one[key] if part.get("type") != "null"))
    if one.get("type") == "array":
        return f"list of {_type(one.get('items', {}))}"
    bounds = {"exclusiveMinimum": "above", "minimum": "from", "maximum": "up to", "exclusiveMaximum": "below"}
    said = " ".join(f"{words} {one[key]:g}" for key, words in bounds.items() if key in one)
    names = {"number": "number", "integer": "whole number", "boolean": "true or false", "string": "text"}
    plain = "day" if one.get("format") == "date" else names.get(one.get("type", ""), "value")
    return f"{plain} {said}".strip()


def _spaced(title: str) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", title)


PAGES: dict[str, Callable[[], str]] = {
    "rules.md": rules_page, "events.md": events_page, "calculations.md": calculations_page, "errors.md": errors_page,
    "commands.md": commands_page, "settings.md": settings_page, "equipment.md": equipment_page,
    "policies.md": policies_page,
}  # fmt: skip


def main(check: bool) -> int:
    """Write what stands below the mark of each page, or say which pages would change."""
    changed = []
    for name, page in PAGES.items():
        place = DOCS / name
        before = place.read_text("utf-8")
        text = f"{before.partition(MARK)[0]}{MARK}\n{page()}"
        if before != text:
            changed.append(name)
            if not check:
                place.write_text(text, "utf-8")
    sys.stdout.write(f"{'would change' if check else 'written'}: {', '.join(changed) or 'nothing'}\n")
    return int(check and bool(changed))


if __name__ == "__main__":
    sys.exit(main("--check" in sys.argv))
