"""The chain of issued papers notices every change of a figure, a file, an order or a number."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from agency.certificates import chain
from agency.certificates.checking import faults
from agency.certificates.issuing import issue_certificate, reissue
from agency.certificates.models import Certificate
from agency.jobs.models import Job
from tests.builders import make_comparison

from .conftest import estimate_for


@pytest.fixture
def three(ready_job: Job, cast: Any) -> list[Certificate]:
    """A certificate reissued twice: three papers, one after the other."""
    first = issue_certificate(ready_job.pk)
    second = reissue(ready_job, "Paper lost.", cast.manager)
    return [first, second, reissue(ready_job, "Lost again.", cast.manager)]


def change(certificate: Certificate, **values: Any) -> None:
    """As somebody with the database in hand would."""
    Certificate.objects.filter(pk=certificate.pk).update(**values)


def test_hash_of_the_first_link_is_the_published_function_of_known_text() -> None:
    """SHA-256 of "0...0 abc" by another program: printf '%064d abc' 0 | sha256sum."""
    assert chain.link(chain.FIRST, "abc") == (
        "ccb3cad955ee5974e2129ad3381d4c430d3770574c3620e62dc9409206689dd9"
    )


def test_figures_read_back_from_the_database_keep_their_hash(three: list[Certificate]) -> None:
    """Numbers that a column of JSON may write in another way than Python does."""
    figures = {"a": -0.0, "b": 1e-7, "c": 0.1 + 0.2, "d": 1.0, "e": 123456.789, "f": None, "g": 3}
    before = chain.hash_of(figures)
    change(three[0], figures=figures)
    three[0].refresh_from_db()
    assert chain.hash_of(three[0].figures) == before
    assert chain.hash_of({**figures, "g": 4}) != before


def test_each_paper_is_linked_to_the_one_before(three: list[Certificate]) -> None:
    assert [one.position for one in three] == [1, 2, 3]
    assert three[0].chain_hash == chain.link(chain.FIRST, three[0].content_hash)
    assert three[2].chain_hash == chain.link(three[1].chain_hash, three[2].content_hash)
    assert list(faults()) == []


def test_command_prints_where_the_chain_ends(three: list[Certificate]) -> None:
    said = StringIO()
    call_command("check_certificates", stdout=said)
    assert "3 certificate(s), all as issued." in said.getvalue()
    assert three[2].chain_hash in said.getvalue()


def test_command_fails_and_names_the_changed_paper(three: list[Certificate]) -> None:
    change(three[1], reason="Another reason.")
    said = StringIO()
    with pytest.raises(CommandError, match=r"1 fault\(s\) found"):
        call_command("check_certificates", stderr=said)
    assert f"{three[1]} does not say what it said" in said.getvalue()


def test_changed_figure_is_found(three: list[Certificate]) -> None:
    change(three[0], figures={**three[0].figures, "finished_on": "2026-05-11"})
    assert list(faults()) == [f"{three[0]} does not say what it said when it was issued."]


def test_changed_figure_with_its_hash_made_anew_breaks_the_link(three: list[Certificate]) -> None:
    forged = three[1]
    forged.figures["finished_on"] = "2026-05-11"
    change(forged, figures=forged.figures, content_hash=forged.hashed_content())
    assert list(faults()) == [f"{forged} is not linked to the paper before it."]


def test_paper_forged_with_its_link_breaks_the_next_link(three: list[Certificate]) -> None:
    forged = three[1]
    forged.figures["finished_on"] = "2026-05-11"
    content = forged.hashed_content()
    link = chain.link(three[0].chain_hash, content)
    change(forged, figures=forged.figures, content_hash=content, chain_hash=link)
    assert list(faults()) == [f"{three[2]} is not linked to the paper before it."]


def test_paper_taken_out_is_missed(three: list[Certificate]) -> None:
    Certificate.objects.filter(pk=three[2].pk).update(replaces=None)
    Certificate.objects.filter(pk=three[1].pk).delete()
    found = list(faults())
    assert f"{three[2]} stands at 3 where 2 is due: a paper is missing." in found


def test_changed_and_lost_files_are_found(three: list[Certificate]) -> None:
    with three[0].file.storage.open(three[0].file.name, "wb") as file:
        file.write(b"%PDF-1.7 another")
    three[1].file.storage.delete(three[1].file.name)
    assert list(faults()) == [
        f"The file of {three[0]} is not the one that was issued.",
        f"The file of {three[1]} is not in the store.",
    ]


def test_without_papers_the_check_says_so(db: None) -> None:
    said = StringIO()
    call_command("check_certificates", stdout=said)
    assert "No certificate is issued yet." in said.getvalue()


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer anyway")
def test_papers_issued_at_the_same_time_queue_for_their_place(
    ready_job: Job,
    make_job: Callable[..., Job],
    make_run: Callable[..., Any],
) -> None:
    jobs = [ready_job]
    for _ in range(3):
        job = make_job(status="approved")
        before, after = make_run(job, "before", 2000.0), make_run(job, "after", 1500.0)
        estimate_for(job, make_comparison(job, before, after))
        jobs.append(job)

    def issue(job: Job) -> None:
        try:
            issue_certificate(job.pk)
        finally:
            connection.close()

    with ThreadPoolExecutor(len(jobs)) as pool:
        list(pool.map(issue, jobs))
    assert [one.position for one in Certificate.objects.in_order()] == [1, 2, 3, 4]
    assert list(faults()) == []


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_papers_issued_before_the_chain_are_linked_by_the_migration(
    ready_job: Job, cast: Any
) -> None:
    first = issue_certificate(ready_job.pk)
    second = reissue(ready_job, "Paper lost.", cast.manager)
    MigrationExecutor(connection).migrate([("certificates", "0001_initial")])
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())
    linked = list(Certificate.objects.in_order())
    assert [one.chain_hash for one in linked] == [first.chain_hash, second.chain_hash]
    assert [one.check_code for one in linked] == [first.check_code, second.check_code]
    assert list(faults()) == []
