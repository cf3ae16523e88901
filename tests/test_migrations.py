"""Migrations: complete, reversible with data in place, and the rule book they load."""

import json
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from agency.diagnostics.models import InstrumentUse, TestRun
from agency.rulebook.models import Rule
from agency.rulebook.shipped import shipped_rules
from tests import builders


@pytest.mark.django_db
def test_no_model_change_is_without_its_migration():
    call_command("makemigrations", check=True, dry_run=True, stdout=StringIO())


@pytest.mark.django_db
def test_a_new_database_holds_every_shipped_rule():
    stored = set(Rule.objects.values_list("code", "effective_from"))
    assert stored == {(rule.code, rule.effective_from) for rule in shipped_rules()}


@pytest.mark.django_db
def test_loading_again_adds_nothing_and_keeps_a_correction():
    rule = Rule.objects.exclude(limit=None).first()
    Rule.objects.filter(pk=rule.pk).update(limit=rule.limit + 1)
    said = StringIO()
    call_command("load_rules", stdout=said)
    assert "0 rule(s) added" in said.getvalue()
    assert Rule.objects.get(pk=rule.pk).limit == rule.limit + 1


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_back_and_forward_with_readings_in_place():
    """One step back and forward again: not a row of the readings changes."""
    crew = builders.Crew.objects.create(name="Crew Alder")
    device, _ = builders.make_device(builders.make_user("crew", "casimir", crew=crew))
    job = builders.make_job(crew=crew)
    for phase in ("before", "after"):
        builders.make_run(job, phase, device=device)
    rows = list(TestRun.objects.order_by("pk").values())

    migrate([("diagnostics", "0001_initial")])
    assert list(TestRun.objects.order_by("pk").values()) == rows
    migrate(MigrationExecutor(connection).loader.graph.leaf_nodes())
    assert list(TestRun.objects.order_by("pk").values()) == rows
    with pytest.raises(IntegrityError), transaction.atomic():
        TestRun.objects.update(document="changed")


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_runs_stored_before_the_table_are_noted_by_the_migration():
    crew = builders.Crew.objects.create(name="Crew Alder")
    device, _ = builders.make_device(builders.make_user("crew", "casimir", crew=crew))
    plain = builders.make_run(builders.make_job(crew=crew), device=device)
    with_fans = builders.make_run(builders.make_job(crew=crew), device=device, gauge="QG-015")
    document = json.loads(with_fans.document) | {"fans": [{"serial": "QF-003"}, {"serial": "QF-4"}]}

    migrate([("diagnostics", "0001_initial")])
    TestRun.objects.filter(pk=with_fans.pk).update(document=json.dumps(document))
    migrate(MigrationExecutor(connection).loader.graph.leaf_nodes())
    assert used(plain.pk) == {("gauge", "QG-014")}
    assert used(with_fans.pk) == {("gauge", "QG-015"), ("fan", "QF-003"), ("fan", "QF-4")}


def used(pk):
    return set(InstrumentUse.objects.filter(test_run=pk).values_list("kind", "serial"))


def migrate(targets):
    MigrationExecutor(connection).migrate(targets)
