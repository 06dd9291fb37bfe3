"""Routes for people: each page fills one documented view of the dashboards room."""
