"""What is stored of an API token."""

import hashlib


def token_digest(key: str) -> str:
    """Return the digest under which a token's key is found again."""
    return hashlib.sha256(key.encode()).hexdigest()
