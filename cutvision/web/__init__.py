"""The bench page: a form to a request, a result to a writer. No arithmetic."""
