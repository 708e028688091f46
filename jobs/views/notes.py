"""Notes and photos of a visit."""

from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from jobs.forms.notes import NoteForm, PhotoForm
from jobs.models import Photo
from jobs.services.notes import note_add, photo_add
from jobs.views.closed import on_open_job
from jobs.views.seen import visit_seen
from shopdiag.people.access import MemberRequest, requires
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
        context={"visit": seen, "title": "Add a note", "action": "Add the note"},
        done=reverse("jobs:visit", args=[seen.pk]),
        saved="The note is on the card.",
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
        context={"visit": seen, "title": "Add a photo", "action": "Add the photo"},
        done=reverse("jobs:visit", args=[seen.pk]),
        saved="The photo is on the card.",
    )


@requires(Action.SEE_WORK)
@require_safe
def photo(request: MemberRequest, photo_id: int) -> FileResponse:
    """Send a photo to whoever may see its visit."""
    found = get_object_or_404(Photo.objects.seen_by(request.member), pk=photo_id)
    try:
        file = found.image.open("rb")
    except FileNotFoundError:
        raise Http404("The photo's file is gone.") from None
    return FileResponse(
        file,
        content_type="image/jpeg",
        filename=f"photo-{found.pk}.jpg",
        headers={"Cache-Control": "private, max-age=86400, immutable"},
    )
