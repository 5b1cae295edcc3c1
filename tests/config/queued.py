"""Tasks for the tests of the queue."""

from __future__ import annotations

from django_tasks import task

from plots.models import Property


@task()
def rename(pk: int, name: str) -> int:
    """Gives a property another name; says how many there were."""
    return Property.objects.filter(pk=pk).update(name=name)


@task()
def fall_over() -> None:
    raise ValueError("the task fell over")
