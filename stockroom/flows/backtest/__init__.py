"""Replaying past weeks under several ordering policies."""
