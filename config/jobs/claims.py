"""Claiming a daily job: a row per job and day, with a lease that frees it again if its owner dies."""

from __future__ import annotations

import datetime as dt

from django.db import IntegrityError, transaction
from django.db.models import F

from config.models import JobClaim

MOST_ATTEMPTS = 3


def claim(job: str, *, day: dt.date, owner: str, now: dt.datetime, lease: dt.timedelta) -> bool:
    """Whether `owner` may do the job of this day now. True for exactly one caller until the lease has run out."""
    until = now + lease
    try:
        with transaction.atomic():
            JobClaim.objects.create(job=job, day=day, claimed_by=owner, lease_until=until)
    except IntegrityError:
        return _take_over(job, day=day, owner=owner, now=now, until=until)
    return True


def _take_over(job: str, *, day: dt.date, owner: str, now: dt.datetime, until: dt.datetime) -> bool:
    left = JobClaim.objects.filter(
        job=job, day=day, done_at__isnull=True, lease_until__lt=now, attempts__lt=MOST_ATTEMPTS
    )
    return bool(left.update(claimed_by=owner, lease_until=until, attempts=F("attempts") + 1))


def renew(job: str, *, day: dt.date, owner: str, until: dt.datetime) -> bool:
    """Lengthens the lease; False if somebody else has taken the job over."""
    mine = JobClaim.objects.filter(job=job, day=day, claimed_by=owner, done_at__isnull=True)
    return bool(mine.update(lease_until=until))


def finish(job: str, *, day: dt.date, owner: str, now: dt.datetime) -> bool:
    """Marks the job of this day as done; False if it was no longer the owner's."""
    mine = JobClaim.objects.filter(job=job, day=day, claimed_by=owner, done_at__isnull=True)
    return bool(mine.update(done_at=now, trouble=""))


def fail(job: str, *, day: dt.date, owner: str, now: dt.datetime, trouble: str) -> None:
    """Notes what went wrong and frees the job for another try."""
    mine = JobClaim.objects.filter(job=job, day=day, claimed_by=owner, done_at__isnull=True)
    mine.update(lease_until=now, trouble=trouble[:2000])
