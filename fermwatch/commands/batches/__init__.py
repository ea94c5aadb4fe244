"""What `fermwatch batch` does, part by part."""
