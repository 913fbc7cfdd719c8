"""What a picture's pixels say: one reduced decode, a thumbnail, the light it was taken in."""
