"""What is in the inbox goes in; answers come out, worked out in separate processes."""
