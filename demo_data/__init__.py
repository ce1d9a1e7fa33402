"""The invented academy: writes a landing folder by the input contract and keeps the truth it planted."""
