"""Plan the rounds of a month: who walks when, what is closed, what goes on which day."""
