"""Having a file read anew: as corrected by hand, as it is, or as it was before."""

from functools import partial
from uuid import UUID

from django.db import transaction
from django.db.models.functions import Now

from shopdiag.people.models import Member, Shop
from traces.core.readers import Correction
from traces.models import Capture, FileShape, Reading, Work
from traces.runs.sending import send
from traces.selectors.clock import database_now


def reading_correct(
    *, member: Member, capture: Capture, correction: Correction, form_token: UUID | None = None
) -> Reading:
    """Have a capture's file read as a person says; nothing said reads it as it is.

    The same form token gives the same reading, so that a form sent twice reads once.

    The current reading counts until this one is done, and goes on counting where it fails. The
    worker remembers what was said for files of this shape once it has read this one with it.
    """
    with transaction.atomic():
        # One of a shop at a time here, so that a double submit finds the first.
        Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
        sent_before = form_token and Reading.objects.filter(capture=capture, form_token=form_token)
        if sent_before and (earlier := sent_before.first()):
            return earlier
        current = Capture.objects.select_related("current_reading").get(pk=capture.pk).reading
        newest = Reading.objects.filter(capture=capture).order_by("-pk").first()
        said = correction.to_json()
        if newest and newest.asked_by_id and not newest.is_settled and newest.correction == said:
            return newest
        reading = Reading.objects.create(
            capture=capture,
            rate_hz_given=current.rate_hz_given,
            correction=said,
            shape=current.shape,
            asked_by=member,
            form_token=form_token,
            queued_at=database_now(),
        )
        transaction.on_commit(partial(send, Reading, reading.pk), robust=True)
    return reading


def reading_take_again(*, member: Member, reading: Reading) -> Reading:
    """Let a capture's earlier reading count again.

    By a new row that shares the earlier one's samples, not by pointing at that: who took it
    again and when stays on record, and runs of both belong to the same samples.
    """
    with transaction.atomic():
        Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
        capture = Capture.objects.select_related("current_reading").get(pk=reading.capture_id)
        if capture.reading.samples_file == reading.samples_file:
            return capture.reading
        now = database_now()
        again = Reading.objects.create(
            capture=capture,
            rate_hz_given=reading.rate_hz_given,
            correction=reading.correction,
            shape=reading.shape,
            asked_by=member,
            understood=reading.understood,
            roles=reading.roles,
            sketch=reading.sketch,
            samples_file=reading.samples_file,
            state=Work.State.DONE,
            queued_at=now,
            started_at=now,
            finished_at=now,
        )
        Capture.objects.filter(pk=capture.pk).update(current_reading=again)
    return again


def shape_forget(*, member: Member, shape: str) -> int:
    """No longer read the shop's later files of a shape as corrected; return what was forgotten.

    All that was said of the shape, or an earlier correction would come back in its place. The
    rows stay, so that it can be told how earlier files were read.
    """
    rows = FileShape.objects.filter(shop_id=member.shop_id, shape=shape, forgotten_at=None)
    return rows.update(forgotten_at=Now())
