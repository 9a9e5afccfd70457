"""The front door with less in hand, for tests: beside the page looked at only the next one, and no kernel stands by."""

from vdlib.__main__ import main
from vdlib.door import ahead, course


class NextOnly(ahead.Ahead):
    """Makes the likeliest page ahead that nobody has opened yet, and no other; first the start page."""

    def __init__(self, *given):
        """Begin with no page opened."""
        super().__init__(*given)
        self.opened = set()

    async def take(self, file):
        """Give a page out as ever."""
        self.opened.add(file)
        return await super().take(file)

    async def turn(self):
        """Look as ever, with one page wanted."""
        wanted = self.wanted if self.opened else [course.START.file]
        self.wanted = [file for file in wanted if file not in self.opened][:1]
        self.kernels.stand_by = self._nothing
        await super().turn()

    async def _nothing(self):
        return False


if __name__ == "__main__":
    ahead.Ahead = NextOnly
    main()
