# SPDX-License-Identifier: MIT
"""The forms that a label can have, a file a form."""

from wiretrack.labels.forms.base import Case, Form
from wiretrack.labels.forms.card import CARD
from wiretrack.labels.forms.flag import FLAG
from wiretrack.labels.forms.marking import MARKING
from wiretrack.labels.forms.plate import PLATE
from wiretrack.labels.forms.sleeve import SLEEVE
from wiretrack.labels.forms.strip import STRIP
from wiretrack.labels.forms.wrap import WRAP

FORMS: tuple[Form, ...] = (WRAP, FLAG, SLEEVE, PLATE, STRIP, CARD, MARKING)
BY_NAME = {form.name: form for form in FORMS}

__all__ = ["BY_NAME", "FORMS", "Case", "Form"]
