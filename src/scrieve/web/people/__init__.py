"""Who asks and what he may: signing in, roles, signatures."""
