"""Form fields whose refusals name what was asked, the limit and the next step."""

from decimal import Decimal
from typing import Any

from django import forms

MOST_CHARACTERS = 160


class WordsField(forms.CharField):
    """A line of text."""

    def __init__(
        self, *, missing: str = "", max_length: int = MOST_CHARACTERS, **kwargs: Any
    ) -> None:
        messages = {
            "required": missing,
            "max_length": f"Shorten it to {max_length} characters; it has %(show_value)s.",
        }
        super().__init__(
            max_length=max_length, required=bool(missing), error_messages=messages, **kwargs
        )


class CountField(forms.IntegerField):
    """How many of something; empty counts as none."""

    widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})

    def __init__(self, *, most: int, **kwargs: Any) -> None:
        allowed = f"Enter a whole number from 0 to {most}"
        messages = {
            "invalid": f"{allowed}, in digits.",
            "min_value": f"{allowed}. You entered %(show_value)s.",
            "max_value": f"{allowed}. You entered %(show_value)s.",
        }
        super().__init__(
            min_value=0, max_value=most, required=False, error_messages=messages, **kwargs
        )

    def clean(self, value: Any) -> int:
        """Zero where nothing was typed."""
        return super().clean(value) or 0


class AmountField(forms.DecimalField):
    """An amount of money or of energy, not negative; a comma for thousands is understood."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def __init__(
        self, *, most: int, missing: str = "", decimal_places: int = 2, **kwargs: Any
    ) -> None:
        allowed = f"Enter an amount from 0 to {most:,}"
        messages = {
            "required": missing,
            "invalid": f"{allowed}, in digits, such as 1,240.50.",
            "min_value": f"{allowed}. You entered %(show_value)s.",
            "max_value": f"{allowed}. You entered %(show_value)s.",
            "max_decimal_places": f"Enter it with at most {decimal_places} decimals.",
        }
        super().__init__(
            min_value=0,
            max_value=most,
            required=bool(missing),
            decimal_places=decimal_places,
            error_messages=messages,
            **kwargs,
        )

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        """Without the dollar sign and the commas people write."""
        if isinstance(value, str):
            value = value.replace(",", "").replace("$", "").strip()
        return super().to_python(value)


class RecordChoice(forms.ModelChoiceField):
    """One record of a short list."""

    def __init__(self, queryset: Any, *, missing: str, empty_label: str, **kwargs: Any) -> None:
        messages = {
            "required": missing,
            "invalid_choice": "What was chosen is not on the list; choose from the list.",
        }
        super().__init__(queryset, empty_label=empty_label, error_messages=messages, **kwargs)


class CodeChoice(forms.ChoiceField):
    """One of a few codes."""

    def __init__(self, choices: Any, *, missing: str, **kwargs: Any) -> None:
        messages = {
            "required": missing,
            "invalid_choice": "%(value)s is not on the list; choose from the list.",
        }
        super().__init__(choices=choices, error_messages=messages, **kwargs)


def not_after_today(form: forms.Form, name: str, *, today: Any, what: str) -> Any:
    """The day of a field, refused when it has not come yet."""
    day = form.cleaned_data[name]
    if day is not None and day > today:
        raise forms.ValidationError(
            f"{what} cannot lie after today, {today:%m/%d/%Y}. You entered {day:%m/%d/%Y}."
        )
    return day
