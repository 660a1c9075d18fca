"""The bank as an electrical network: conductors, sharing, drop, protection, sizing."""
