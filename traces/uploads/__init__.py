"""Files on their way in: in one request or in parts."""
