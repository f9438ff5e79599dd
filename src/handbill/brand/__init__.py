"""A shop's house style made into values that styles can use."""
