"""The makers' instrument: what the advice is worth, beside a plain calendar and an oracle."""
