"""The image, built and run: what ``make image-test`` does, apart from the tests."""
