"""What a person types to sign in, with messages that say what to do next."""

from typing import Any

from django.contrib.auth.forms import AuthenticationForm


class SignInForm(AuthenticationForm):
    """Name and password; the same message whether the name is known or not."""

    error_messages = {
        "invalid_login": "The username and password do not belong together. Check both, "
        "including capital letters, and try again.",
        "inactive": "The username and password do not belong together. Check both, "
        "including capital letters, and try again.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].error_messages["required"] = "Enter your username."
        self.fields["password"].error_messages["required"] = "Enter your password."
