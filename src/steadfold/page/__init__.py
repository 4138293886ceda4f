"""What the browser shows: a small server on this machine alone, and the page it serves."""
