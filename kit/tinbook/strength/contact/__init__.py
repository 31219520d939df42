"""Contact: lips that rest on the body, with small and with large displacements."""
