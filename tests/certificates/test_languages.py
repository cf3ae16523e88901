"""English and Spanish papers: the catalogue is whole, compiled, and used to the last sentence."""

import ast
import gettext
import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils.translation import gettext as translated
from django.utils.translation import override
from django.utils.translation.template import templatize

from agency.certificates import sentences
from agency.certificates.papers import certificate_html, certificate_pdf
from agency.people.models import Client
from tests.papers.reading import read

CATALOGUE = Path(sentences.__file__).parent / "locale/es/LC_MESSAGES/django"
ENTRY = re.compile(r'^msgid "(.+)"\nmsgstr "(.+)"$', re.MULTILINE)
QUOTED = re.compile(r"""gettext\((u?'(?:[^'\\]|\\.)*'|u?"(?:[^"\\]|\\.)*")\)""")
SAME = {"therms", "kWh"}
"""Words that are the same in both languages."""


def written() -> dict[str, str]:
    """The catalogue as people edit it; each message stands on one line."""
    entries = ENTRY.findall(CATALOGUE.with_suffix(".po").read_text(encoding="utf-8"))
    return {
        ast.literal_eval(f'"{said}"'): ast.literal_eval(f'"{meant}"') for said, meant in entries
    }


def asked() -> set[str]:
    """Every message of the template and of the sentences."""
    template = settings.BASE_DIR / "templates/papers/certificate.html"
    found = {ast.literal_eval(one) for one in QUOTED.findall(templatize(template.read_text()))}
    for node in ast.walk(ast.parse(Path(sentences.__file__).read_text(encoding="utf-8"))):
        is_call = isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        if is_call and node.func.id in {"_", "gettext_noop"}:
            (argument,) = node.args
            if isinstance(argument, ast.Constant):
                found.add(argument.value)
    return found


def test_compiled_catalogue_says_what_the_written_one_says() -> None:
    with CATALOGUE.with_suffix(".mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)._catalog  # type: ignore[attr-defined]
    assert {said: meant for said, meant in compiled.items() if said} == written()


def test_every_message_is_translated_and_none_is_left_over() -> None:
    assert len(asked()) > 80
    assert asked() == set(written())


def test_no_other_catalogue_speaks_in_place_of_ours() -> None:
    with override("es"):
        assert {said: translated(said) for said in written()} == written()


def test_translations_keep_every_placeholder() -> None:
    for said, meant in written().items():
        assert sorted(re.findall(r"%\(\w+\)s", said)) == sorted(re.findall(r"%\(\w+\)s", meant))
        assert said != meant or said in SAME


def test_every_language_a_household_may_have_is_printed(numbered: dict[str, Any]) -> None:
    titles = set()
    for language in Client.Language.values:
        page = certificate_html({**numbered, "language": language})
        assert f'<html lang="{language}-US"' in page
        titles.add(page.partition("<title>")[2].partition("</title>")[0])
    assert len(titles) == len(Client.Language.values)


def test_spanish_certificate_tells_the_same_in_spanish(numbered: dict[str, Any]) -> None:
    reader, pages = read(certificate_pdf({**numbered, "language": "es"}))
    assert reader.trailer["/Root"]["/Lang"] == "es-US"
    assert len(pages) == 2
    for said in (
        "Su hogar después de la climatización",
        "Obra terminada 12 de mayo de 2026",
        "18 % menos fugas de aire en esta casa",
        "Muy probablemente entre 14 % y 22 % menos.",
        "412 cfm menos, 18 %",
        "$120 a $210 al año",
        "84 a 142 therms de gas natural para calefacción",
        "Nunca tape las rejillas",
        "Página 1 de 2",
    ):
        assert said in pages[0], said
    assert "Would you rather read this in English? Call 555-0100." in pages[1]
    english = [said for said in written() if said not in SAME and len(said) > 12]
    for said in english:
        assert said not in " ".join(pages), said


@pytest.mark.parametrize(
    ("air", "headline"),
    [
        ({"reduction": None, "verdict": "no_before"}, "Cambio: no se midió"),
        ({"is_clear": False}, "Ningún cambio que las pruebas puedan distinguir"),
        (
            {"reduction": -0.1, "low": -0.2, "high": -0.05},
            "10\u202f% más fugas de aire en esta casa",
        ),
    ],
)
def test_spanish_says_no_more_than_was_measured(
    numbered: dict[str, Any], air: dict[str, Any], headline: str
) -> None:
    page = certificate_html({**numbered, "language": "es", "air": {**numbered["air"], **air}})
    assert headline in page
