"""The migrations, one file for each revision. A released file is never changed."""
