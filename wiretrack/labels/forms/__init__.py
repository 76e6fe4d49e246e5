# SPDX-License-Identifier: MIT
"""The forms that a label can have, a file a form, and the kinds of label that can be asked for."""

from wiretrack.labels.forms.base import Case, Form
from wiretrack.labels.forms.card import CARD
from wiretrack.labels.forms.flag import FLAG
from wiretrack.labels.forms.marking import MARKING
from wiretrack.labels.forms.plate import PLATE
from wiretrack.labels.forms.sleeve import SLEEVE
from wiretrack.labels.forms.strip import STRIP
from wiretrack.labels.forms.wrap import WRAP
from wiretrack.labels.subject import CONDUCTOR, PULL_NUMBERS, LabelKind

FORMS: tuple[Form, ...] = (WRAP, FLAG, SLEEVE, CARD, STRIP, PLATE, MARKING)
BY_NAME = {form.name: form for form in FORMS}
_KINDS: tuple[LabelKind, ...] = (
    CONDUCTOR,
    PULL_NUMBERS,
    *(form for form in FORMS if isinstance(form, LabelKind)),
)
KINDS = {kind.kind: kind for kind in _KINDS}

__all__ = ["BY_NAME", "FORMS", "KINDS", "Case", "Form"]
