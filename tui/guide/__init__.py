"""The step as a view-model and the key machine; no textual."""
