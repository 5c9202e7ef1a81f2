"""What a person sees: text, pictures, drawings, and JSON for programs."""
