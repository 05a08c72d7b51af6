"""The page that goes to the vet, and the answer that comes back."""
