"""Is the program alive, and which of its services is not?"""

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse


@login_not_required
def healthz(request: HttpRequest) -> JsonResponse:
    """200 when the database answers, 503 naming it when not."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return JsonResponse({"database": "does not answer"}, status=503)
    return JsonResponse({"database": "answers"})
