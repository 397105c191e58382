"""The widgets of the screens, one idea a module."""
