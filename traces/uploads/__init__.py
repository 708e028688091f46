"""Files on their way in: with a form, or as an upload by the tus protocol."""
