"""The pull plan: how far the next full-load pull may go, and when the driver lifts."""
