"""What is asked on the pages of a report: how files are made, and the typed name of a lock."""

from typing import Any

from django import forms
from django.conf import settings

from agency.reports.models import Export

WORKBOOK = "workbook"
"""Stands for every table at once."""


class FileForm(forms.Form):
    """What a file may say, and on which paper it is printed; every answer may be left out."""

    PAPERS = [("letter", "Letter"), ("a4", "A4")]

    paper = forms.ChoiceField(label="Paper of the PDF", choices=PAPERS, required=False)
    names = forms.BooleanField(
        label="With names and addresses", required=False,
        help_text="In the list of homes of CSV and XLSX files only.",
    )  # fmt: skip
    withhold = forms.BooleanField(
        label="Withhold small counts", required=False,
        help_text="For papers that leave the agency; single homes are left out as well.",
    )  # fmt: skip
    mark = forms.BooleanField(
        label="Byte order mark in CSV files, for spreadsheet programs", required=False
    )

    def clean_paper(self) -> str:
        """The agency's own paper unless another is asked for."""
        return str(self.cleaned_data["paper"] or settings.PAPER_SIZE)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("names") and said.get("withhold"):
            self.add_error(
                "names", "Names and withheld counts exclude each other. Choose one of the two."
            )
        return said


class ExportForm(FileForm):
    """A file that a worker writes."""

    table = forms.ChoiceField(
        label="What to write", error_messages={"required": "Choose a table or the workbook."}
    )

    def __init__(self, *args: Any, tables: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["paper"]
        choices = [(WORKBOOK, "Every table, as a workbook (XLSX)")]
        choices += [(name, f"{title}, as CSV") for name, title in tables]
        self.fields["table"].choices = choices  # type: ignore[attr-defined]
        self.order_fields(["table", "names", "withhold", "mark"])

    @property
    def asked(self) -> dict[str, Any]:
        """The form of the file, its table and its options."""
        said = self.cleaned_data
        options = {name: said[name] for name in ("names", "withhold", "mark")}
        if said["table"] == WORKBOOK:
            return {"form": Export.Form.XLSX, "table": "", "options": options}
        return {"form": Export.Form.CSV, "table": said["table"], "options": options}


class LockForm(forms.Form):
    """The name of the quarter, typed again."""

    typed = forms.CharField(
        max_length=80,
        error_messages={"required": "Type the name of the quarter to lock it."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )

    def __init__(self, *args: Any, code: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["typed"].label = f"Type {code}"
