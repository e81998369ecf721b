"""Page: a pigment's name is new but spelt like a known one; the form that named it goes on with what is chosen."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from functools import wraps

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from ...errors import UsageError
from ...library.shelf.names import SLIP
from ...library.shelf.pigments import set_pigment
from ..context import studio_of
from ..forms import text
from ..render import REFUSAL, page

CHOSEN, NAME, NEAR = "spelling", "spelling-name", "spelling-near"  # fields of the question
KNOWN, NEW = "known", "new"
RECIPE, LONGEST = "recipe", 2000  # the field that names pigments; letters

Handler = Callable[[Request, FormData], Response]


def asking(view: Handler) -> Handler:
    """A view whose recipe may name a pigment that is asked about; what was chosen then is done before."""

    @wraps(view)
    def asked(request: Request, form: FormData) -> Response:
        form = _settled(request, form)
        try:
            return view(request, form)
        except UsageError as error:
            if error.code != SLIP:
                raise
            fields = [(name, value) for name, value in form.multi_items() if isinstance(value, str) and name != "token"]
            choice = {"problem": error, "fields": fields, **{name: error.facts[name] for name in ("name", "near")}}
            return page(request, "spelling.html.jinja", REFUSAL, **choice)

    return asked


def _settled(request: Request, form: FormData) -> FormData:
    """The form without the question's fields: with the known name in its recipe, or the new one put on the shelf."""
    chosen, name, near = (text(form, field) for field in (CHOSEN, NAME, NEAR))
    fields = [(field, value) for field, value in form.multi_items() if field not in (CHOSEN, NAME, NEAR)]
    if chosen == NEW and name:
        with suppress(UsageError):  # it was put there meanwhile
            set_pigment(studio_of(request).opened(create=True), name)
    if chosen == KNOWN and name and near:
        words = r"\s+".join(map(re.escape, name.split()))
        written = re.compile(rf"(?<!\w){words}(?!\w)", re.I)
        fields = [
            (field, written.sub(lambda _: near, value) if field == RECIPE and isinstance(value, str) else value)
            for field, value in fields
        ]
    return FormData(fields)
