# SPDX-License-Identifier: MIT
"""One function for each thing that a person does; joins the registry and the pure rooms.

What can't be done is refused whole by a `BadInputError`, which names the value: a `FieldError` the
field too, a `NotFoundError` what is called nearly so, a `RetiredError` what took the place.
"""
