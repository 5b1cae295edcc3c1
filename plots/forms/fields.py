"""Form fields that say in a sentence what they refuse. What counts as right is decided in `plots.entering`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from plots import entering

LARGEST_VERSION = 2**31 - 2


def refuse(error: ValueError) -> ValidationError:
    """The sentence of a refusal as a form has it."""
    return ValidationError(str(error))


class Words(forms.CharField):
    """Text on one line, or with `lines` on several."""

    def __init__(self, *, longest: int, lines: bool = False, invisible: bool = True, **kwargs: Any) -> None:
        self.longest, self.lines, self.invisible = longest, lines, invisible
        if lines:
            kwargs.setdefault("widget", forms.Textarea(attrs={"rows": 3}))
        super().__init__(strip=False, **kwargs)
        self.widget.attrs["maxlength"] = str(longest)
        self.error_messages["required"] = f"{self.label or 'This'} is missing."

    def to_python(self, value: Any) -> str:
        try:
            return entering.words(value or "", label=str(self.label), longest=self.longest, lines=self.lines,
                                  invisible=self.invisible)  # fmt: skip
        except ValueError as error:
            raise refuse(error) from None


class Code(Words):
    """A short code by which people tell things apart: nothing in it may be unseen."""

    def __init__(self, *, longest: int = 20, **kwargs: Any) -> None:
        super().__init__(longest=longest, invisible=False, **kwargs)


class Figure(forms.DecimalField):
    """A number with its unit and what is allowed. A text field, so that what was typed stays, whatever it was."""

    def __init__(
        self, *, low: Decimal | int | str, high: Decimal | int | str, unit: str = "", places: int = 2, **kwargs: Any
    ) -> None:
        self.low, self.high, self.unit, self.places = Decimal(low), Decimal(high), unit, places
        mode = "decimal" if places else "numeric"
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": mode, "autocomplete": "off"}))
        super().__init__(**kwargs)
        self.validators = []  # what is allowed is decided where it is read
        self.error_messages["required"] = f"{self.label or 'A number'} is missing."

    def to_python(self, value: Any) -> Decimal | None:
        if value in self.empty_values or (isinstance(value, str) and not value.strip()):
            return None
        try:
            return entering.figure(
                value, label=str(self.label), low=self.low, high=self.high, unit=self.unit, places=self.places
            )
        except ValueError as error:
            raise refuse(error) from None

    def prepare_value(self, value: Any) -> Any:
        return f"{value.normalize():f}" if isinstance(value, Decimal) else value


class Count(Figure):
    """A whole number."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(places=0, **kwargs)

    def to_python(self, value: Any) -> int | None:  # type: ignore[override]
        found = super().to_python(value)
        return None if found is None else int(found)

    def validate(self, value: Any) -> None:
        forms.Field.validate(self, value)


class Area(forms.CharField):
    """The number of an area as typed: it is read together with its unit, which stands in a field of its own."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(**kwargs)
        self.validators = []  # a NUL gets the sentence of what is no number
        self.error_messages["required"] = "The area is missing; allowed are 0.01 to 2,000 acres."

    def prepare_value(self, value: Any) -> Any:
        return f"{value.normalize():f}" if isinstance(value, Decimal) else value


class Day(forms.DateField):
    """A date within what is allowed; `latest` is asked when the form is used, since it is mostly today."""

    def __init__(
        self, *, earliest: dt.date = dt.date(1900, 1, 1), latest: Callable[[], dt.date] | None = None, why: str = "",
        **kwargs: Any,
    ) -> None:  # fmt: skip
        self.earliest, self.latest, self.why = earliest, latest, why
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)
        self.error_messages["required"] = f"{self.label or 'A date'}: the date is missing."

    def to_python(self, value: Any) -> dt.date | None:
        if value in self.empty_values:
            return None
        latest = self.latest() if self.latest else None
        try:
            return entering.day(value, label=f"{self.label}:", earliest=self.earliest, latest=latest, why=self.why)
        except ValueError as error:
            raise refuse(error) from None


class Choice(forms.ChoiceField):
    """One of several, with the value named that was none of them."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        if not kwargs.get("error_messages"):
            self.error_messages["required"] = f"{self.label or 'This'}: choose one of the list."

    def validate(self, value: Any) -> None:
        forms.Field.validate(self, value)
        if value and not self.valid_value(value):
            raise ValidationError(f"{self.label} {entering.shown(value)} is not known; choose one of the list.")


class Number(forms.TypedChoiceField):
    """One of several whole numbers shown as words, such as months and seasons."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(coerce=int, empty_value=None, **kwargs)
        self.error_messages["required"] = f"{self.label or 'This'}: choose one of the list."

    def validate(self, value: Any) -> None:
        forms.Field.validate(self, value)
        if value and not self.valid_value(value):
            raise ValidationError(f"{self.label} {entering.shown(value)} is not known; choose one of the list.")


class Version(forms.IntegerField):
    """The version of the row that the form was opened with."""

    def __init__(self) -> None:
        super().__init__(required=False, min_value=0, max_value=LARGEST_VERSION, widget=forms.HiddenInput)

    def clean(self, value: Any) -> int:
        try:
            return super().clean(value) or 0
        except ValidationError:
            return 0  # no row has it, so the change is taken for a stale one
