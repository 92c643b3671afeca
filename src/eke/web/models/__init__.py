"""Pydantic models: the contract between the server and the front end; they exist in ``web`` only."""
