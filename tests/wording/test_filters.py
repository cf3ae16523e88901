"""The filters give templates the same words, marked up where needed."""

from datetime import UTC, datetime

import pytest
from django.core.paginator import Paginator
from django.template import Context, Template
from django.utils import timezone

from agency.charts.distribution import Bar, draw_distribution
from agency.wording.templatetags import wording


def rendered(source: str, **context: object) -> str:
    return Template("{% load wording %}" + source).render(Context(context))


def test_a_moment_carries_the_machines_form():
    at = datetime(2026, 11, 25, 20, 14, tzinfo=UTC)
    with timezone.override("America/Chicago"):
        html = rendered("{{ at|moment_tag }}", at=at)
    assert html == (
        '<time datetime="2026-11-25T14:14:00-06:00">Nov 25, 2026, 2:14\u00a0PM CST</time>'
    )


def test_the_day_of_a_moment_is_the_offices_day():
    with timezone.override("America/Chicago"):
        assert rendered("{{ at|day }}", at=datetime(2026, 7, 1, 3, 0, tzinfo=UTC)) == "Jun 30, 2026"


def test_counts_with_regular_and_irregular_plurals():
    assert rendered('{{ 3|counted:"test" }}') == "3\u00a0tests"
    assert rendered('{{ 1|counted:"child,children" }}') == "1\u00a0child"
    assert rendered('{{ 2|counted:"child,children" }}') == "2\u00a0children"


def test_page_numbers_leave_gaps():
    assert wording.page_numbers(Paginator(range(1204), 50), 12) == [1, None, 11, 12, 13, None, 25]


def test_our_own_drawing_is_let_through():
    svg = draw_distribution(
        [Bar(name="20 %", homes=1)], title="Reduction <by> home", measure="Reduction"
    )
    assert rendered("{{ svg|drawing }}", svg=svg) == svg


@pytest.mark.parametrize(
    "svg",
    [
        "<p>text</p>",
        '<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>',
        '<svg xmlns="http://www.w3.org/2000/svg"><a href="https://example.org"/></svg>',
        '<svg xmlns="http://www.w3.org/2000/svg" onload="1"/>',
        '<svg xmlns="http://www.w3.org/2000/svg"><g style="fill:red"/></svg>',
    ],
)
def test_a_drawing_that_could_act_is_refused(svg):
    with pytest.raises(ValueError, match="drawing"):
        wording.drawing(svg)
