"""From a brief to words: subject, text, HTML, JSON, calendar. Pure."""
