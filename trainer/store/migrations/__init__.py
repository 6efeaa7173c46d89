"""Alembic's folder: how each older file becomes the present one.

A new revision is a file `versions/vNNNN_what.py`, its number at the end of `migrate.SHIPPED`, the
change in `tables.py`, and a dump of a store at that revision (`tests/store/data/README.md`). A
revision that was released is never changed.
"""
