"""Sootline's bridge: from the logger's wire to the verdict on each cylinder."""
