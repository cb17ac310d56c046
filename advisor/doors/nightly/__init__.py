"""The round over all growers at night: a briefing for each, by processes here or on several hosts."""
