"""Calendars of the school (RFC 5545), read into supervised hours, lessons, duties and holidays."""
