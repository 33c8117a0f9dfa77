"""The configuration: schema, loading, one list of problems, the example."""
