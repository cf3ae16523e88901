"""What the OpenAPI schema says about signing in."""

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension


class DeviceScheme(OpenApiAuthenticationExtension):
    """How the schema describes the token."""

    target_class = "agency.api.authentication.DeviceAuthentication"
    name = "phoneToken"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": "The word Token, a space, and the token given at pairing.",
        }
