"""What mail readers are known to support, and which of it a mail uses."""
