"""A second reader of the Inkfast format, written from schema/FORMAT.md alone.

It shares no line with the program that writes stores, so that one mistake cannot hide in both.
"""
