"""Who changed what: the kept versions of tracked rows, newest first, each said by the fields it changed.

Which tables are asked is told by the page, since it may show any; here stands how they are read in a number of
queries that depends on the tables only.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.paginator import Page, Paginator
from django.db import models
from django.db.models import F, OuterRef, QuerySet, Subquery, Value
from django.utils import timezone

from plots.entering import MONTHS

VERBS = {"+": "added", "~": "changed", "-": "taken away"}
NOTHING = "nothing"
_ALWAYS_HIDDEN = frozenset({"id", "version", "code_key", "sort_key"})
_LONGEST = 120


@dataclass(frozen=True, slots=True)
class Book:
    """One kind of thing whose changes are shown.

    `rows` are its versions (or, for what is written once, the rows themselves) of the property or plot asked about;
    `when`, `who` the columns that say so; `title` names one row. `words` gives fields the words of the pages;
    `say` says single values.
    """

    kind: str
    rows: QuerySet[Any]
    title: Callable[[Any], str]
    key: str = "history_id"
    when: str = "history_date"
    who: str = "history_user"
    words: Mapping[str, str] | None = None
    hidden: frozenset[str] = frozenset()
    say: Mapping[str, Callable[[Any], str]] | None = None

    @property
    def has_versions(self) -> bool:
        return self.key == "history_id"


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One field: its words, and what it held before and after."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Change:
    """One change: of what, by whom, when, and field by field."""

    when: dt.datetime
    who: str
    verb: str
    kind: str
    title: str
    fields: tuple[FieldChange, ...]


def page_of_changes(books: Sequence[Book], *, number: object, length: int) -> tuple[Page[Any], list[Change]]:
    """One page of the changes in these books, newest first."""
    marks = [
        book.rows.order_by()
        .annotate(book=Value(place, models.IntegerField()), at=F(book.when), row=F(book.key))
        .values_list("book", "row", "at")
        for place, book in enumerate(books)
    ]
    joined = marks[0].union(*marks[1:], all=True) if len(marks) > 1 else marks[0]
    page = Paginator(joined.order_by("-at", "-row"), length).get_page(number)
    return page, _changes(books, list(page.object_list))


def _changes(books: Sequence[Book], marks: Sequence[tuple[int, int, dt.datetime]]) -> list[Change]:
    keys: dict[int, list[int]] = defaultdict(list)
    for place, key, _ in marks:
        keys[place].append(key)
    rows: dict[tuple[int, int], Any] = {}
    before: dict[tuple[int, int], Any] = {}
    for place, wanted in keys.items():
        book = books[place]
        found, earlier = _read(book, wanted)
        rows |= {(place, key): row for key, row in found.items()}
        before |= {(place, key): row for key, row in earlier.items()}
    names = _names(rows.values(), before.values())
    return [
        _change(books[place], rows[place, key], before.get((place, key)), names)
        for place, key, _ in marks
        if (place, key) in rows
    ]


def _read(book: Book, keys: Sequence[int]) -> tuple[dict[int, Any], dict[int, Any]]:
    """The rows of one book by key, and for each version the one before it."""
    chosen = book.rows.filter(**{f"{book.key}__in": keys})
    if not book.has_versions:
        return {row.pk: row for row in chosen}, {}
    model = book.rows.model
    older = model.objects.filter(id=OuterRef("id"), history_id__lt=OuterRef("history_id")).order_by("-history_id")
    found = {row.history_id: row for row in chosen.annotate(before_id=Subquery(older.values("history_id")[:1]))}
    wanted = {row.before_id for row in found.values() if row.before_id is not None}
    versions = {row.history_id: row for row in model.objects.filter(history_id__in=wanted)}
    return found, {key: versions[row.before_id] for key, row in found.items() if row.before_id in versions}


def _names(*groups: Iterable[Any]) -> dict[tuple[type[models.Model], int], str]:
    """What the rows that versions point to are called now, by model and key."""
    wanted: dict[type[models.Model], set[int]] = defaultdict(set)
    for group in groups:
        for row in group:
            for field in getattr(row, "tracked_fields", ()):
                if field.is_relation and (key := getattr(row, field.attname)) is not None:
                    wanted[field.related_model].add(key)
    return {
        (model, row.pk): str(row) for model, keys in wanted.items() for row in model._base_manager.filter(pk__in=keys)
    }


def _change(book: Book, row: Any, before: Any, names: Mapping[tuple[type[models.Model], int], str]) -> Change:
    person = getattr(row, book.who)
    kind = row.history_type if book.has_versions else "+"
    return Change(
        when=getattr(row, book.when),
        who=str(person) if person is not None else "the program",
        verb=VERBS[kind],
        kind=book.kind,
        title=book.title(row),
        fields=tuple(_differences(book, row, before, names)) if kind == "~" and before is not None else (),
    )


def _differences(
    book: Book, row: Any, before: Any, names: Mapping[tuple[type[models.Model], int], str]
) -> Iterable[FieldChange]:
    for field in row.tracked_fields:
        if field.name in _ALWAYS_HIDDEN or field.name in book.hidden:
            continue
        old, new = getattr(before, field.attname), getattr(row, field.attname)
        if old != new:
            words = (book.words or {}).get(field.name, str(field.verbose_name))
            said = (book.say or {}).get(field.name)
            before_after = (said(value) if said else _said(field, value, names) for value in (old, new))
            yield FieldChange(_capital(words), *before_after)


def _capital(words: str) -> str:
    """With a capital, but for pH, which has its own."""
    return words if words.startswith("pH") else f"{words[:1].upper()}{words[1:]}"


def _said(field: Any, value: Any, names: Mapping[tuple[type[models.Model], int], str]) -> str:
    """A stored value in words."""
    if value is None or value in ("", [], {}):
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if field.is_relation:
        return names.get((field.related_model, value), "one that is gone")
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, dt.datetime):
        return f"{timezone.localtime(value):%b %-d, %Y, %H:%M}"
    if isinstance(value, dt.date):
        return f"{value:%b %-d, %Y}"
    text = str(value)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"


def months_said(value: Sequence[int]) -> str:
    """A list of months."""
    return ", ".join(MONTHS[month - 1] for month in value) if value else "all year"
