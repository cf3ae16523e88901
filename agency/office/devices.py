"""Phones: which are paired, a code to pair one, revoking one."""

from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from uuid import UUID

import segno
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency.accounts.models import CODE_LIFE, QUIET_AFTER, Device, PairingCode

from .access import DeskRequest, desk_only, reviewers_only
from .forms import PairForm
from .pages import render_page

FIELD = "/field/"
"""Where the phone's pages begin; what follows # stays on the phone and in no log."""


@desk_only
def devices(request: DeskRequest) -> HttpResponse:
    """Every phone, paired ones first, and the form to pair another."""
    return _show(request, PairForm())


@require_POST
@reviewers_only
def pair(request: DeskRequest) -> HttpResponse:
    """Make a code that pairs a phone, shown this once and never again."""
    form = PairForm(request.POST)
    if not form.is_valid():
        return _show(request, form, status=422)
    user, now = form.cleaned_data["user"], timezone.now()
    code = PairingCode.make(user, made_by=request.user, now=now)
    address = request.build_absolute_uri(f"{FIELD}#pair={code}")
    context = {
        "carrier": user,
        "code": f"{code[:4]}-{code[4:]}",
        "address": request.build_absolute_uri(FIELD),
        "picture": _qr(address),
        "until": now + CODE_LIFE,
    }
    return render_page(request, "office/pairing_code.html", context, section="devices")


@require_POST
@reviewers_only
def revoke(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Refuse a phone from now on."""
    device = get_object_or_404(Device, pk=pk)
    device.revoke()
    messages.success(
        request,
        f"{device} is revoked. Readings still on it are kept there; pair it again to send them.",
    )
    return redirect("office:devices")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A phone, when it last called, and whether it has been silent for too long."""

    device: Device
    heard: datetime | None
    is_quiet: bool


def _show(request: DeskRequest, form: PairForm, *, status: int = 200) -> HttpResponse:
    now = timezone.now()
    phones = Device.objects.phones().select_related("user", "token")
    rows = sorted((_row(device, now) for device in phones), key=lambda row: row.device.is_revoked)
    context = {
        "rows": rows,
        "form": form,
        "quiet_days": QUIET_AFTER.days,
        "code_minutes": CODE_LIFE.seconds // 60,
    }
    return render_page(request, "office/devices.html", context, section="devices", status=status)


def _row(device: Device, now: datetime) -> Row:
    heard = device.last_heard
    is_quiet = not device.is_revoked and (heard is None or heard < now - QUIET_AFTER)
    return Row(device=device, heard=heard, is_quiet=is_quiet)


def _qr(text: str) -> str:
    """The text as a square picture for a phone's camera."""
    svg = BytesIO()
    code = segno.make(text, error="m", micro=False)
    code.save(svg, kind="svg", xmldecl=False, scale=6, dark="#000", light="#fff", title="QR code")
    return svg.getvalue().decode()
