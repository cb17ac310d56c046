"""Messages that come by text or by mail: spooled, posted to the service, answered once."""
