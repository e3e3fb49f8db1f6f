"""The pages. The only place that knows the web framework."""
