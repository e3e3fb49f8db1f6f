"""The bench companion of a person who services old mechanical cameras."""
