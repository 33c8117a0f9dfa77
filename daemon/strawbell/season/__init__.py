"""From the plan and the journal to the brief of a day. Pure."""
