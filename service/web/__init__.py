"""HTTP: routes for programs and for people. The only place that knows status codes."""
