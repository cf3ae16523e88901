"""One form definition a kind of test: its document, its words, and how the gauge is hooked up."""
