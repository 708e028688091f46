"""Notes and photos of a visit."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from jobs.forms.notes import NoteForm, PhotoForm
from jobs.models import Photo
from jobs.services.notes import note_add, photo_add
from jobs.views.seen import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action


@requires(Action.ADD_NOTE)
@require_http_methods(["GET", "HEAD", "POST"])
def note_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Add a note."""
    seen = visit_seen(request.member, visit_id)
    form = NoteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            note_add(visit=seen, member=request.member, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, "The note is on the card.")
            return redirect("jobs:visit", seen.pk)
    return render(
        request,
        "jobs/visit/add.html",
        {"visit": seen, "form": form, "title": "Add a note", "action": "Add the note"},
        status=422 if request.method == "POST" else 200,
    )


@requires(Action.ADD_NOTE)
@require_http_methods(["GET", "HEAD", "POST"])
def photo_new(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Add a photo."""
    seen = visit_seen(request.member, visit_id)
    posted = request.method == "POST"
    form = PhotoForm(request.POST, request.FILES) if posted else PhotoForm()
    if posted and form.is_valid():
        try:
            photo_add(
                visit=seen,
                file=form.cleaned_data["image"],
                member=request.member,
                caption=form.cleaned_data["caption"],
                form_token=form.cleaned_data["form_token"],
            )
        except ValidationError as error:
            form.add_error("image", error.messages)
        else:
            messages.success(request, "The photo is on the card.")
            return redirect("jobs:visit", seen.pk)
    return render(
        request,
        "jobs/visit/add.html",
        {"visit": seen, "form": form, "title": "Add a photo", "action": "Add the photo"},
        status=422 if posted else 200,
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
