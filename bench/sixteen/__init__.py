"""Sixteen vehicles carried from complaint to proof through the services, with typed records only.

`vehicles.toml` says what came in, what was measured and what a master technician would have done;
`carrying` carries each one through the service and keeps what the product said at each step.
"""
