"""What is sent again after a lost answer counts once: a page gives such a form a token of its own.

The same token with the same fields is the same thing sent again; with other fields it is another thing (a page that
was gone back to), and is carried out.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from typing import Annotated

from fastapi import Depends, Request
from markupsafe import Markup
from starlette.datastructures import UploadFile

FIELD = "once"
_TOKEN = 12  # bytes
_SHOWN = re.compile(rf'(<input type="hidden" name="{FIELD}" value=")[\w-]{{{_TOKEN * 4 // 3}}}(">)'.encode())


def token_field() -> Markup:
    """The hidden field, for a template: made anew with every page."""
    return Markup('<input type="hidden" name="{}" value="{}">').format(FIELD, secrets.token_urlsafe(_TOKEN))


def renewed(html: bytes) -> bytes:
    """A page that was sent before, with tokens of its own. What a person typed cannot look like one: it is escaped."""
    return _SHOWN.sub(lambda found: found[1] + secrets.token_urlsafe(_TOKEN).encode() + found[2], html)


async def sent_key(request: Request) -> str:
    """Key of what was sent, "" where it carries no token: a dependency of routes that add something."""
    form = await request.form()
    if not form.get(FIELD):
        return ""
    said = [[name, [v.filename, v.size] if isinstance(v, UploadFile) else v] for name, v in form.multi_items()]
    return hashlib.sha256(json.dumps([request.url.path, said]).encode()).hexdigest()


Once = Annotated[str, Depends(sent_key)]
