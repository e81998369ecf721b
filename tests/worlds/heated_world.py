"""A hidden studio without photos, before and after its heat: two worlds that share strips, phone and chance."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchcam.mixing.known_strip import KnownStrip
from tests.worlds.heat import Baked
from tests.worlds.hidden_studios import hidden_studio
from tests.worlds.inkworld import Shares, World
from tests.worlds.spectra import Array


@dataclass(frozen=True)
class HeatedWorld:
    """One studio: its strips dry, and after its usual heat."""

    dry: World
    hot: World

    def pair(self, shares: Shares, number: int) -> list[KnownStrip]:
        """Strip `number` in both states, each in a photo of its own."""
        after = self.hot.known_strip(shares, number, 10_000 + number)
        return [self.dry.known_strip(shares, number), replace(after, later=True)]

    def known(self, pairs: int) -> list[KnownStrip]:
        """The dry test series, and so many pairs of strips of other mixes."""
        rng = np.random.default_rng([self.dry.seed, 5])
        mixes = [self.dry.mix(rng) for _ in range(pairs)]
        return self.dry.series() + [one for at, mix in enumerate(mixes) for one in self.pair(mix, 1000 + at)]

    def moved(self, shares: Shares) -> tuple[Array, Array]:
        """(3,) and (3,): true CIELAB of a strip of usual thickness, dry and heated."""
        return self.dry.lab(shares), self.hot.lab(shares)


def heated_world(number: int) -> HeatedWorld:
    """Studio `number` of the split build (`hidden_studios`)."""
    studio = hidden_studio("build", number)
    assert studio.habits is not None
    hot = studio.heated(Baked(studio.habits.usual.celsius, studio.habits.usual.seconds))
    dry = World(700 + number, tuple(sorted(studio.pigments)), studio.reflectance, spread=studio.spread)
    return HeatedWorld(dry, replace(dry, truth=hot.reflectance))
