"""Alembic's folder: how each older file becomes the present one."""
