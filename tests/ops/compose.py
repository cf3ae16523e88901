"""docker-compose.yml as the tests read it: parsed, and with its variables filled in."""

import re
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[2]
COMPOSE_FILE = ROOT / "docker-compose.yml"
PROGRAM = ("migrate", "web", "worker", "beat")
"""The services that run our own code."""

VARIABLE = re.compile(r"\$(?:(?P<dollar>\$)|\{(?P<name>\w+)(?::(?P<kind>[?-])(?P<rest>[^}]*))?\})")


class MissingVariableError(KeyError):
    """A variable that the file insists on is not set."""


def variables() -> dict[str, str | None]:
    """Each variable that the file reads, with its default; None when it must be set."""
    found: dict[str, str | None] = {}
    for match in VARIABLE.finditer(COMPOSE_FILE.read_text()):
        if match["name"]:
            found[match["name"]] = match["rest"] if match["kind"] == "-" else None
    return found


def filled_in(values: dict[str, str]) -> dict[str, Any]:
    """The services, with the variables replaced as the Compose Specification tells."""

    def replace(match: re.Match[str]) -> str:
        if match["dollar"]:
            return "$"
        value = values.get(match["name"], "")
        if value:
            return value
        if match["kind"] == "?":
            raise MissingVariableError(match["name"])
        return match["rest"] or ""

    def everywhere(node: Any) -> Any:
        if isinstance(node, str):
            return VARIABLE.sub(replace, node)
        if isinstance(node, list):
            return [everywhere(item) for item in node]
        if isinstance(node, dict):
            return {key: everywhere(item) for key, item in node.items()}
        return node

    services: dict[str, Any] = everywhere(yaml.safe_load(COMPOSE_FILE.read_text())["services"])
    return services
