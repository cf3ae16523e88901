"""From a bill file kept as it came to its bills: looked through first, then all or nothing."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.core.files.base import ContentFile
from django.db import transaction

from agency.accounts.models import User
from agency.errors import ActionRefused

from .bill_files import (
    BillFileError,
    CheckedFile,
    DateOrder,
    Ending,
    Layout,
    ReadBill,
    RowError,
    check_bill_csv,
    text_of,
)
from .billing import Bill, BillFile, UtilityAccount
from .espi import Grouping, read_espi

LONGEST_NAME = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What an import would store, and every row that stands in its way."""

    bills: tuple[ReadBill, ...]
    errors: tuple[RowError, ...]

    @property
    def may_be_imported(self) -> bool:
        """Bills, and nothing wrong with any row."""
        return bool(self.bills) and not self.errors


def keep_bill_file(
    account: UtilityAccount,
    *,
    name: str,
    content: bytes,
    kind: str,
    reading: dict[str, Any],
    by: User,
) -> BillFile:
    """Store a file as it came; no bill is stored yet.

    Raises
    ------
    BillFileError
        Too large or not UTF-8 text: what is no bill file at all is not kept.
    """
    text_of(content)
    kept = BillFile(
        account=account,
        kind=kind,
        name=name[-LONGEST_NAME:],
        sha256=hashlib.sha256(content).hexdigest(),
        size=len(content),
        reading=reading,
        sent_by=by,
    )
    kept.file.save("", ContentFile(content), save=False)
    kept.save()
    return kept


def look_through(kept: BillFile) -> Preview:
    """Read the file without storing anything."""
    with kept.file.open("rb") as file:
        content = file.read()
    try:
        read = _read(kept, content)
    except BillFileError as error:
        return Preview(bills=(), errors=(RowError(place="file", message=str(error)),))
    errors = [*read.errors, *_negative(kept, read.bills), *_overlapping(read.bills)]
    if kept.state != "imported":
        errors += _stored_already(kept.account, read.bills)
    return Preview(bills=read.bills, errors=tuple(errors))


@transaction.atomic
def import_bill_file(file_id: UUID, by: User, *, now: datetime) -> BillFile:
    """Store every bill of the file, or none."""
    kept = _locked(file_id)
    # Two files of one account must not be looked through side by side: they may overlap.
    UtilityAccount.objects.select_for_update().get(pk=kept.account_id)
    preview = look_through(kept)
    kept.note_import(by, now)
    if not preview.may_be_imported:
        raise ActionRefused(
            f"{kept.name} has {len(preview.errors)} rows to put right and {len(preview.bills)} "
            "that can be read; nothing was imported. Correct the file and send it again."
        )
    Bill.objects.bulk_create(
        Bill(
            account=kept.account,
            file=kept,
            start=read.start,
            end=read.end,
            energy=read.energy,
            estimated=read.estimated,
            is_correction=read.energy < 0,
            place=read.place,
        )
        for read in preview.bills
    )
    return kept


@transaction.atomic
def undo_bill_file(file_id: UUID, by: User, reason: str, *, now: datetime) -> BillFile:
    """Take every bill of the file out again; the file itself stays."""
    kept = _locked(file_id)
    kept.note_undoing(by, now, reason)
    kept.bills.all().delete()
    return kept


def _locked(file_id: UUID) -> BillFile:
    files = BillFile.objects.select_related("account").select_for_update(of=("self",))
    return files.get(pk=file_id)


def _read(kept: BillFile, content: bytes) -> CheckedFile:
    told = kept.reading
    if kept.kind == BillFile.Kind.ESPI:
        bills = read_espi(
            content,
            grouping=Grouping(told["grouping"]),
            zone=ZoneInfo(told["zone"]),
            gas_heat_content=told["gas_heat_content"],
        )
        return CheckedFile(bills=bills, errors=())
    layout = Layout(
        start=told["start"],
        end=told["end"],
        energy=told["energy"],
        estimated=told["estimated"] or None,
        joules_per_unit=told["joules_per_unit"],
        ending=Ending(told["ending"]),
        order=DateOrder(told["order"]),
        delimiter=told["delimiter"],
    )
    return check_bill_csv(content, layout)


def _negative(kept: BillFile, bills: Sequence[ReadBill]) -> list[RowError]:
    """Less than nothing is a slip unless the sender has said that the file holds corrections."""
    if kept.reading.get("corrections"):
        return []
    return [
        RowError(
            place=bill.place,
            message=f"The energy of {bill.start} to {bill.end} is below 0. Correct it, or send the "
            "file again and say that it holds corrections.",
        )
        for bill in bills
        if bill.energy < 0
    ]


def _overlapping(bills: Sequence[ReadBill]) -> list[RowError]:
    ordered = sorted(bills, key=lambda bill: (bill.start, bill.end))
    return [
        RowError(
            place=later.place,
            message=f"{later.start} to {later.end} overlaps {earlier.place}, {earlier.start} to "
            f"{earlier.end}. Correct the dates, or take out the bill that was replaced.",
        )
        for earlier, later in pairwise(ordered)
        if later.start < earlier.end
    ]


def _stored_already(account: UtilityAccount, bills: Sequence[ReadBill]) -> list[RowError]:
    if not bills:
        return []
    first, last = min(bill.start for bill in bills), max(bill.end for bill in bills)
    known = Bill.objects.touching(account, first=first, last=last).select_related("file")
    stored = list(known)
    return [
        RowError(
            place=bill.place,
            message=f"{bill.start} to {bill.end} overlaps a bill that is stored already: "
            f"{other.start} to {other.end}, from {other.file.name}. Undo that import, or take "
            "the row out.",
        )
        for bill in bills
        for other in stored
        if _touch(bill.start, bill.end, other)
    ]


def _touch(start: date, end: date, other: Bill) -> bool:
    return other.start < end and other.end > start
