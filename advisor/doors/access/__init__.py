"""Who comes in: keys, signing in, which garden a request is about, and how much of the service it may use."""
