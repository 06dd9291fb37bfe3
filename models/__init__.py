"""Histories in, findings out: adjustment, baselines, drift, causes, forecast, risk."""
