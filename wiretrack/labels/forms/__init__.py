# SPDX-License-Identifier: MIT
"""The forms that a label can have, a file a form, and the kinds of label that can be asked for."""

from importlib import import_module
from pkgutil import iter_modules

from wiretrack.labels.forms.base import Case, Form
from wiretrack.labels.subject import CONDUCTOR, PULL_NUMBERS, LabelKind

_FOUND = (
    found
    for file in iter_modules(__path__)
    for found in vars(import_module(f"{__name__}.{file.name}")).values()
    if isinstance(found, Form)
)
FORMS: tuple[Form, ...] = tuple(sorted(dict.fromkeys(_FOUND), key=lambda form: form.order))
BY_NAME = {form.name: form for form in FORMS}
_KINDS: tuple[LabelKind, ...] = (
    CONDUCTOR,
    PULL_NUMBERS,
    *(form for form in FORMS if isinstance(form, LabelKind)),
)
KINDS = {kind.kind: kind for kind in _KINDS}

__all__ = ["BY_NAME", "FORMS", "KINDS", "Case", "Form"]
