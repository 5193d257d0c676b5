"""The interface in OpenAPI 3.1; kinds and their bodies come from where the desk has them."""

from __future__ import annotations

from neckring.web.openapi_paths import paths
from neckring.web.openapi_schemas import Schema, schemas

SECURITY: Schema = {
    "program": {
        "type": "http",
        "scheme": "bearer",
        "description": "Token of POST /api/v1/pair with program true.",
    },
    "page": {
        "type": "apiKey",
        "in": "cookie",
        "name": "neckring_session",
        "description": "A page's cookie; a write carries x-neckring-guard as well.",
    },
    "sensor": {
        "type": "http",
        "scheme": "bearer",
        "description": "Token of a source of readings, drawn on the lead's page.",
    },
}
"""How a program, a page and a source of readings say who they are."""


def document(version: str) -> Schema:
    """The whole document."""
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "neckring console",
            "version": "1",
            "summary": "The live run, for a team's own sensors and screens.",
            "description": f"Served by neckring {version or 'of this folder'}. SI units; run times "
            "in seconds since the run was opened. See docs/api.md.",
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/"}],
        "paths": paths(),
        "components": {
            "securitySchemes": SECURITY,
            "schemas": schemas(),
        },
    }
