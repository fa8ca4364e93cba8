"""Writing procedures: what helps whoever writes them before anyone works from them."""
