"""Alarms: the rationalised table and the life of one alarm (after ANSI/ISA-18.2, IEC 62682)."""
