"""Garments drafted by general methods, traced with noise, and how well their seams are proposed."""
