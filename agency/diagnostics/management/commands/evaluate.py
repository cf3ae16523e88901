"""`manage.py evaluate FILE`: the figures of one test-run document, without a database."""

import json
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from agency.diagnostics.bridge.kinds import evaluate
from agency.diagnostics.documents import parse_json
from agency.diagnostics.evaluation import Evaluation
from agency.errors import AgencyError, DocumentRefused, FieldReason
from agency.rulebook.shipped import shipped_rules

BAD_INPUT = 2


class Command(BaseCommand):
    """Evaluate one document by the shipped rule book."""

    help = "Evaluate a test-run document (JSON file, or - for standard input) and print figures."
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", help="JSON file, or - to read standard input")
        parser.add_argument(
            "--explain", action="store_true", help="print every step with its source"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            evaluation = evaluate(parse_json(_read(options["file"])), rules=shipped_rules())
        except DocumentRefused as refusal:
            self._refuse(refusal.reasons)
        except AgencyError as refusal:
            self._refuse([_plain_reason("rules", str(refusal), "Correct the rule book.")])
        if evaluation.verdict == "not_computed":
            self._refuse(_reasons(evaluation))
        if options["explain"]:
            self.stdout.write("\n".join(explained(evaluation)))
            return
        self.stdout.write(json.dumps(evaluation.as_dict(), indent=2, allow_nan=False))

    def _refuse(self, reasons: list[FieldReason]) -> None:
        """Reasons in words on standard error, as JSON on standard output; exit status 2."""
        for reason in reasons:
            self.stderr.write(str(reason))
        plain = {"verdict": "not_computed", "reasons": [one.as_dict() for one in reasons]}
        self.stdout.write(json.dumps(plain, indent=2, allow_nan=False))
        self.stdout.flush()
        sys.exit(BAD_INPUT)


def explained(evaluation: Evaluation) -> list[str]:
    """The calculation and the checks in readable lines."""
    edition = f", edition {evaluation.edition}" if evaluation.edition else ""
    lines = [
        f"{evaluation.method}{edition}; maths {evaluation.maths_version}",
        f"Verdict: {evaluation.verdict}",
        "",
        "Steps",
    ]
    for number, step in enumerate(evaluation.steps, start=1):
        value = "not known" if step["value"] is None else f"{step['value']:.6g} {step['unit']}"
        lines.append(f"{number}. {step['what']}: {value.strip()}")
        given = "; ".join(f"{name} = {text}" for name, text in step["numbers"].items())
        lines.append(f"   {step['formula']}" + (f"   with {given}" if given else ""))
        lines.append(f"   Source: {step['source']} ({step['provenance']})")
    lines += ["", "Checks"]
    for check in evaluation.checks:
        status = check["status"].replace("_", " ")
        where = f" [{check['field']}]" if check["field"] else ""
        lines.append(f"{status}: {check['message']}{where}")
        if check["next_step"]:
            lines.append(f"   {check['next_step']}")
        lines.append(f"   Rule: {check['code']}, {check['source']} ({check['provenance']})")
    return lines


def _reasons(evaluation: Evaluation) -> list[FieldReason]:
    return [
        FieldReason(
            field=check["field"],
            code=check["code"],
            message=check["message"],
            value=check["measured"],
            limit=f"{check['limit']} {check['unit']}".strip(),
            next_step=check["next_step"],
        )
        for check in evaluation.checks
        if check["status"] == "reject"
    ]


def _read(name: str) -> bytes:
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(name).read_bytes()
    except OSError as error:
        text = f"{name} cannot be read: {error.strerror}."
        raise DocumentRefused(
            [_plain_reason("unreadable_file", text, "Name a file that can be read.")]
        ) from error


def _plain_reason(code: str, message: str, next_step: str) -> FieldReason:
    return FieldReason(field="", code=code, message=message, next_step=next_step)
