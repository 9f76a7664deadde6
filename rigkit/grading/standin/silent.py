"""What stands in for something: an object that takes every call and says nothing, and a function that is closed."""

from rigkit.course.closed import ClosedBook


def closed(name):
    """A function that is closed, under the name it has in the package."""

    def raising(*args, **kwargs):
        raise ClosedBook(name)

    return raising


class Silent:
    """Any attribute, any call and any item is another silent object; it prints as nothing."""

    def __init__(self, *args, **kwargs):
        pass

    def __getattr__(self, name):
        if name.startswith("_"):
            raise AttributeError(name)
        return Silent()

    def __call__(self, *args, **kwargs):
        return Silent()

    def __getitem__(self, key):
        return Silent()

    def __iter__(self):
        return iter(())

    def __enter__(self):
        return self

    def __exit__(self, *error):
        return False

    def __repr__(self):
        return ""
