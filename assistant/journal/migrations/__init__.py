"""The shop's PostgreSQL schema, step by step (Alembic); `assistant publish` carries them out."""
