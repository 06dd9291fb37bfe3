"""Findings, trends and forecasts in numbers and codes that a ticket can show."""
