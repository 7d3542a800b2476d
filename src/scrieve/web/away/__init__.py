"""Pages and entries while the server is away."""
