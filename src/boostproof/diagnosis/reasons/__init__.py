"""Why: what each source of evidence adds, how far the answer can be trusted and what it hangs on."""
