"""The first load: small, public, strict, and complete enough to start without a signal."""

import gzip
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.urls import reverse

from agency.field import shell

MOST_BYTES = 150_000
"""Of everything a phone fetches before the first screen, compressed. Own choice."""


def test_first_load_is_small(client):
    pages = [client.get(reverse(f"field:{name}")).content for name in ("shell", "worker")]
    files = [Path(finders.find(name)).read_bytes() for name in shell.assets()]
    assert sum(len(gzip.compress(one)) for one in pages + files) <= MOST_BYTES


def test_every_module_the_pages_import_is_kept():
    kept = set(shell.assets())
    for name in [one for one in kept if one.endswith(".js")]:
        text = Path(finders.find(name)).read_text(encoding="utf-8")
        imported = {f"field/{one}" for one in re.findall(r'from "\./([\w.]+)"', text)}
        assert imported <= kept, name


def test_worker_keeps_shell_manifest_and_every_file(client):
    answer = client.get(reverse("field:worker"))
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache"
    text = answer.content.decode()
    for address in ("/field/", "/field/manifest.webmanifest", *map(shell.static, shell.assets())):
        assert f'"{address}"' in text
    assert shell.version() in text


def test_manifest_names_icons_that_exist(client):
    answer = client.get(reverse("field:manifest"))
    assert answer["Content-Type"] == "application/manifest+json"
    words = json.loads(answer.content)
    assert words["scope"] == words["start_url"] == reverse("field:shell")
    for icon in words["icons"]:
        assert finders.find(icon["src"].removeprefix("/static/"))


def test_shell_is_the_same_for_everybody_and_holds_nobody(client, sign_in, cast):
    anonymous = client.get(reverse("field:shell")).content
    assert sign_in(cast.crew_lead).get(reverse("field:shell")).content == anonymous
    assert b"casimir" not in anonymous


def test_nothing_inline_and_nothing_from_elsewhere(client):
    answer = client.get(reverse("field:shell"))
    page = answer.content.decode()
    assert "unsafe" not in answer["Content-Security-Policy"]
    assert not re.search(r"<style|style=|<script(?![^>]*src=)|\son\w+=|https?://", page)


def test_data_never_becomes_markup():
    for name in shell.assets():
        if name.endswith(".js"):
            text = Path(finders.find(name)).read_text(encoding="utf-8")
            for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
                assert word not in text, name


@pytest.mark.parametrize("name", ["shell", "worker", "manifest"])
def test_only_looking_is_allowed(client, name):
    assert client.post(reverse(f"field:{name}")).status_code == 405


def test_in_production_modules_import_each_other_by_hashed_names(tmp_path):
    program = """
import os, django
django.setup()
from django.core.management import call_command
call_command("collectstatic", interactive=False, verbosity=0)
from django.test import Client
text = Client().get("/field/sw.js", secure=True, headers={"host": "localhost"}).content.decode()
print(text)
"""
    done = subprocess.run(
        [sys.executable, "-c", program],
        check=True,
        capture_output=True,
        text=True,
        env={
            "PATH": "/usr/bin:/bin",
            "DJANGO_SETTINGS_MODULE": "agency.config.settings",
            "HEARTHLEDGER_MODE": "production",
            "DJANGO_SECRET_KEY": "only for collecting files in a test, fifty characters long",
            "DATA_DIR": str(tmp_path),
        },
    )
    kept = re.findall(r'"/(static/field/[^"]+)"', done.stdout)
    assert len(kept) == sum(name.startswith("field/") for name in shell.assets())
    for address in kept:
        assert re.search(r"\.[0-9a-f]{12}\.js$", address)
        text = (tmp_path / address).read_text(encoding="utf-8")
        for module in re.findall(r'from "\./([^"]+)"', text):
            assert f"static/field/{module}" in kept, address
