"""Colours go in and are kept; they come out found again, compared and backed up, and every change can be undone."""
