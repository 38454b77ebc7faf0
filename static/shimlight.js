// Improves pages that work without it.
