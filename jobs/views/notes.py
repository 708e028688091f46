"""Notes and photos of a visit."""

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse, HttpResponseNotModified
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from jobs.forms.notes import NoteForm, PhotoForm, PhotoRemoveForm
from jobs.models import Photo
from jobs.selectors.photos import may_remove
from jobs.services.notes import note_add, photo_add, photo_remove
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, forbidden, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form


@requires(Action.ADD_NOTE)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def note_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Add a note."""
    seen = visit_seen(request.member, visit_id)
    form = NoteForm(request.POST or None)
    return post_form(
        request,
        form=form,
        save=lambda: note_add(visit=seen, member=request.member, **form.cleaned_data),
        page="jobs/visit/add.html",
        context={
            "visit": seen,
            "title": _("Add a note"),
            "action": _("Add the note"),
            "draft": "note",
        },
        done=reverse("jobs:visit", args=[seen.pk]),
        saved=_("The note is on the card."),
    )


@requires(Action.ADD_NOTE)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def photo_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Add a photo."""
    seen = visit_seen(request.member, visit_id)
    posted = request.method == "POST"
    form = PhotoForm(request.POST, request.FILES) if posted else PhotoForm()
    return post_form(
        request,
        form=form,
        save=lambda: photo_add(
            visit=seen,
            file=form.cleaned_data["image"],
            member=request.member,
            caption=form.cleaned_data["caption"],
            form_token=form.cleaned_data["form_token"],
        ),
        page="jobs/visit/add.html",
        context={
            "visit": seen,
            "title": _("Add a photo"),
            "action": _("Add the photo"),
            "draft": "photo",
        },
        done=reverse("jobs:visit", args=[seen.pk]),
        saved=_("The photo is on the card."),
    )


@requires(Action.SEE_WORK)
@require_safe
def photo(request: MemberRequest, photo_id: int) -> FileResponse | HttpResponseNotModified:
    """Send a photo to whoever may see its visit."""
    found = get_object_or_404(Photo.objects.seen_by(request.member).standing(), pk=photo_id)
    # Asked each time: one that was removed shows nowhere from then on.
    rules = {"Cache-Control": "private, no-cache", "ETag": f'"{found.image.name}"'}
    if get_conditional_response(request, etag=rules["ETag"]):
        return HttpResponseNotModified(headers=rules)
    try:
        file = found.image.open("rb")
    except FileNotFoundError:
        raise Http404(_("The photo's file is gone.")) from None
    return FileResponse(
        file,
        content_type="image/jpeg",
        filename=f"photo-{found.pk}.jpg",
        headers=rules,
    )


@requires(Action.ADD_NOTE)
@require_http_methods(["GET", "HEAD", "POST"])
def photo_take_off(request: MemberRequest, photo_id: int) -> HttpResponse:
    """Remove a photo, by whoever added it or the owner."""
    photos = Photo.objects.seen_by(request.member).select_related("visit__vehicle", "by__user")
    found = get_object_or_404(photos, pk=photo_id)
    order = found.work_order_id
    page = reverse("jobs:work-order", args=[order]) if order else ""
    back = f"{page or reverse('jobs:visit', args=[found.visit_id])}#photos"
    if found.is_removed:
        messages.info(request, _("This photo is removed already."))
        return redirect(back)
    if not may_remove(request.member, found):
        return forbidden(request)
    form = PhotoRemoveForm(request.POST or None)
    return post_form(
        request,
        form=form,
        save=lambda: photo_remove(photo=found, member=request.member, **form.cleaned_data),
        page="jobs/visit/photo_remove.html",
        context={"visit": found.visit, "photo": found, "back": back},
        done=back,
        saved=_("The photo is removed."),
    )
