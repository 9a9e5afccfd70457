"""The front door with less in hand, for tests: beside the page looked at only the next one, and no kernel stands by."""

from vdlib.__main__ import main
from vdlib.door import ahead


class NextOnly(ahead.Ahead):
    """Makes the likeliest page ahead and no other."""

    async def turn(self):
        """Look as ever, with one page wanted."""
        self.wanted, self.kernels.stand_by = self.wanted[:1], self._nothing
        await super().turn()

    async def _nothing(self):
        return False


if __name__ == "__main__":
    ahead.Ahead = NextOnly
    main()
