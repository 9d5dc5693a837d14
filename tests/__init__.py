"""Tests of Setwright; they mirror its rooms."""
