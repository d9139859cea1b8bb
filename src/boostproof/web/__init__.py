"""The worksheet in a browser: thin pages over :mod:`boostproof.jobs` and :mod:`boostproof.workflows`.

:func:`boostproof.web.app.create_app` makes the application, :func:`boostproof.web.serve.serve` runs it.
"""
