"""Phones: which are paired, pairing one, revoking one."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency.accounts.models import QUIET_AFTER, Device

from .access import DeskRequest, desk_only, reviewers_only
from .forms import PairForm
from .pages import render_page


@desk_only
def devices(request: DeskRequest) -> HttpResponse:
    """Every phone, paired ones first, and the form to pair another."""
    return _show(request, PairForm())


@require_POST
@reviewers_only
def pair(request: DeskRequest) -> HttpResponse:
    """Pair a phone and show its token, this once and never again."""
    form = PairForm(request.POST)
    if not form.is_valid():
        return _show(request, form, status=422)
    device, token = Device.pair(form.cleaned_data["user"], form.cleaned_data["label"])
    context = {"device": device, "token": token}
    return render_page(request, "office/device_paired.html", context, section="devices")


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
    phones = Device.objects.select_related("user", "token")
    rows = sorted((_row(device, now) for device in phones), key=lambda row: row.device.is_revoked)
    context = {"rows": rows, "form": form, "quiet_days": QUIET_AFTER.days}
    return render_page(request, "office/devices.html", context, section="devices", status=status)


def _row(device: Device, now: datetime) -> Row:
    heard = device.last_heard
    is_quiet = not device.is_revoked and (heard is None or heard < now - QUIET_AFTER)
    return Row(device=device, heard=heard, is_quiet=is_quiet)
