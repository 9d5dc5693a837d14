"""The stage page, turned by the switcher."""
