"""The report of a job: its parts in words, and the same document as PDF and as a page."""
