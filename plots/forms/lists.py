"""A list of plots sent in, as a form."""

from __future__ import annotations

from typing import Any

from django import forms

from plots.services.plot_import import ListRefused, table_of
from plots.tables import Unreadable, check_size, text_and_encoding


class ListForm(forms.Form):
    """A file, or the list pasted."""

    file = forms.FileField(
        label="File", required=False, help_text="CSV or tab-separated text, as a spreadsheet saves it.",
        error_messages={"empty": "The file is empty."},
    )  # fmt: skip
    pasted = forms.CharField(
        label="or paste the list here", required=False, strip=False, widget=forms.Textarea(attrs={"rows": 8}),
        help_text="The first line names the columns.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A NUL in pasted text gets the sentence of a file that holds one.
        self.fields["pasted"].validators = []

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        file = data.get("file")
        try:
            content = self._content(file)
            text, data["encoding"] = text_and_encoding(content)
            data["table"] = table_of(text)
        except (Unreadable, ListRefused) as error:
            self.add_error("file" if file else "pasted", str(error))
        data["name"] = "".join(char for char in file.name if char.isprintable()) if file else ""
        return data

    def _content(self, file: Any) -> bytes:
        pasted: str = self.cleaned_data.get("pasted") or ""
        if file is None and not pasted.strip():
            raise Unreadable("Choose a file, or paste the list.")
        if file is not None and pasted.strip():
            raise Unreadable("There is a file and a pasted list. Send one of them.")
        if file is None:
            return pasted.encode("utf-8", "surrogatepass")
        check_size(file.size)
        return bytes(file.read())
