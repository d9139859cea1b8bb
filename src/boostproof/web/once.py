"""What is sent again after a lost answer counts once: a page gives such a form a token of its own.

The same token with the same fields is the same thing sent again; with other fields it is another thing (a page that
was gone back to), and is carried out.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from typing import Annotated

from fastapi import Depends, Request
from markupsafe import Markup
from starlette.datastructures import UploadFile

FIELD = "once"


def token_field() -> Markup:
    """The hidden field, for a template: made anew with every page."""
    return Markup('<input type="hidden" name="{}" value="{}">').format(FIELD, secrets.token_urlsafe(12))


async def sent_key(request: Request) -> str:
    """Key of what was sent, "" where it carries no token: a dependency of routes that add something."""
    form = await request.form()
    if not form.get(FIELD):
        return ""
    said = [[name, [v.filename, v.size] if isinstance(v, UploadFile) else v] for name, v in form.multi_items()]
    return hashlib.sha256(json.dumps([request.url.path, said]).encode()).hexdigest()


Once = Annotated[str, Depends(sent_key)]

