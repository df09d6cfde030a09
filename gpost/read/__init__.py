"""From bytes to blocks: whole lines, their words, and where each word stands in the bytes."""
